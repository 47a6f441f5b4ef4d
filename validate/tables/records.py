"""Text → records of cells, each with its row in the file.

A row is what a spreadsheet calls a row: a cell with line breaks inside quotes does not
start a new one, and a blank line counts as one.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from validate.tables.faults import Fault

LONGEST_LINE = 100_000
MOST_COLUMNS = 1_000
MOST_ROWS = 1_000_000
MOST_CELLS = 10_000_000


@dataclass
class Records:
    """The cells of a file by column, as written. `rows` are the file rows of the data rows."""

    header: tuple[str, ...] = ()
    header_row: int = 1
    rows: list[int] = field(default_factory=list)
    columns: Sequence[Sequence[str]] = ()
    faults: list[Fault] = field(default_factory=list)

    def column(self, position: int) -> list[str]:
        """The cells at `position` (from 0), without surrounding spaces."""
        return [cell.strip() for cell in self.columns[position]]


class _Refused(Exception):
    def __init__(self, fault: Fault) -> None:
        self.fault = fault


def read_records(text: str, delimiter: str) -> Records:
    """Records of `text`. Whatever is wrong with its form stands in `faults`; nothing is raised."""
    records = Records()
    kept: list[list[str]] = []
    try:
        for row, record in _numbered(text, delimiter, records.faults):
            if records.header:
                _keep(record, row, records, kept)
            else:
                _take_header(record, row, records)
    except _Refused as refused:
        records.faults.append(refused.fault)
    if kept:
        _tell_blank_rows(records)
        records.columns = list(zip(*kept, strict=True))
    else:
        records.columns = [()] * len(records.header)
    return records


def _numbered(text: str, delimiter: str, faults: list[Fault]) -> Iterator[tuple[int, list[str]]]:
    """Rows that hold anything, with their numbers."""
    reader = csv.reader(_short_lines(text), delimiter=delimiter, strict=True)
    row = 0
    while True:
        row += 1
        try:
            record = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            unclosed = "field limit" in str(error) or "unexpected end" in str(error)
            if unclosed:
                raise _Refused(Fault("table-quote-open", row)) from None
            faults.append(Fault("table-quote", row))
            continue
        if record and (record[0].strip() or any(cell.strip() for cell in record)):
            yield row, record


def _short_lines(text: str) -> Iterator[str]:
    for number, line in enumerate(io.StringIO(text, newline=""), start=1):
        if len(line) > LONGEST_LINE:
            raise _Refused(Fault("table-line-too-long", number, values={"length": f"{len(line):,}", "limit": f"{LONGEST_LINE:,}"}))
        yield line


def _take_header(record: list[str], row: int, records: Records) -> None:
    if len(record) > MOST_COLUMNS:
        raise _Refused(Fault("table-too-wide", row, values={"count": f"{len(record):,}", "limit": f"{MOST_COLUMNS:,}"}))
    records.header = tuple(cell.strip() for cell in record)
    records.header_row = row


def _keep(record: list[str], row: int, records: Records, kept: list[list[str]]) -> None:
    width = len(records.header)
    if len(record) != width:
        if len(record) < width or any(cell.strip() for cell in record[width:]):
            records.faults.append(Fault("table-ragged", row, values={"found": len(record), "expected": width}))
            return
        del record[width:]
    if len(kept) >= MOST_ROWS or len(kept) * width > MOST_CELLS:
        raise _Refused(Fault("table-too-long", row, values={"rows": f"{MOST_ROWS:,}", "cells": f"{MOST_CELLS:,}"}))
    kept.append(record)
    records.rows.append(row)


def _tell_blank_rows(records: Records) -> None:
    """One notice for blank rows between the data; blank rows at the end are no news."""
    numbers = [records.header_row, *records.rows]
    blank = numbers[-1] - records.header_row - len(records.rows)
    if blank and not records.faults:
        first = next(a + 1 for a, b in zip(numbers, numbers[1:], strict=False) if b != a + 1)
        records.faults.append(Fault("table-blank-rows", first, values={"count": f"{blank:,}"}))


def spans(text: str, delimiter: str) -> Iterator[str]:
    """The text of each row as written, without its line end; line breaks inside quotes become `⏎`."""
    lines: list[str] = []

    def passing() -> Iterator[str]:
        for line in io.StringIO(text, newline=""):
            lines.append(line)
            yield line

    reader = csv.reader(passing(), delimiter=delimiter, strict=True)
    while True:
        try:
            next(reader)
        except StopIteration:
            return
        except csv.Error:
            pass
        yield "⏎".join(line.rstrip("\r\n") for line in lines)
        lines.clear()
