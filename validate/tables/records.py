"""Text → records of cells, each with its row in the file.

A row is what a spreadsheet calls a row: a cell with line breaks inside quotes does not
start a new one, and a blank line counts as one.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from validate.tables.faults import Fault

LONGEST_LINE = 100_000
MOST_COLUMNS = 1_000
MOST_ROWS = 1_000_000
MOST_CELLS = 10_000_000
_ROWS_AT_ONCE = 4_096


@dataclass
class Records:
    """The cells of a file by column, as written. `rows` are the file rows of the data rows."""

    header: tuple[str, ...] = ()
    header_row: int = 1
    rows: list[int] = field(default_factory=list)
    columns: Sequence[list[str]] = ()
    faults: list[Fault] = field(default_factory=list)
    broken: bool = False
    """Reading stopped before the end."""

    @property
    def lost_rows(self) -> bool:
        """Whether rows of the file are missing here because of their form."""
        return any(fault.code in ("table-ragged", "table-quote") for fault in self.faults)

    def column(self, position: int) -> list[str]:
        """The cells at `position` (from 0), without surrounding spaces."""
        return list(map(str.strip, self.columns[position]))

    def empty(self, position: int) -> bool:
        return not any(cell.strip() for cell in self.columns[position])


class _Refused(Exception):
    def __init__(self, code: str, row: int, **values: object) -> None:
        self.fault = Fault(code, row, values=values)


def read_records(text: str, delimiter: str) -> Records:
    """Records of `text`. Whatever is wrong with its form stands in `faults`; nothing is raised."""
    records = Records()
    numbered = _numbered(text, delimiter, records.faults)
    try:
        for row, record in numbered:
            _take_header(records, row, record)
            break
        _take_rows(records, numbered)
    except _Refused as refused:
        records.faults.append(refused.fault)
        records.broken = True
    tell_blank_rows(records)
    return records


def _numbered(text: str, delimiter: str, faults: list[Fault]) -> Iterator[tuple[int, list[str]]]:
    """Rows that hold anything, with their numbers."""
    reader = csv.reader(_short_lines(text), delimiter=delimiter, strict=True)
    row = 0
    while True:
        try:
            for record in reader:
                row += 1
                if record and (record[0].strip() or any(map(str.strip, record))):
                    yield row, record
            return
        except csv.Error as error:
            row += 1
            if "field limit" in str(error) or "unexpected end" in str(error):
                raise _Refused("table-quote-open", row) from None
            faults.append(Fault("table-quote", row))


def _short_lines(text: str) -> Iterator[str]:
    for number, line in enumerate(io.StringIO(text, newline=""), start=1):
        if len(line) > LONGEST_LINE:
            raise _Refused("table-line-too-long", number, length=f"{len(line):,}", limit=f"{LONGEST_LINE:,}")
        yield line


def _take_header(records: Records, row: int, record: list[str]) -> None:
    if len(record) > MOST_COLUMNS:
        raise _Refused("table-too-wide", row, count=f"{len(record):,}", limit=f"{MOST_COLUMNS:,}")
    records.header = tuple(map(str.strip, record))
    records.header_row = row
    records.columns = [[] for _ in record]


def _take_rows(records: Records, numbered: Iterator[tuple[int, list[str]]]) -> None:
    """Cells go to their columns in blocks: lists of a whole file's rows would double the memory."""
    width, rows = len(records.header), records.rows
    block: list[list[str]] = []
    try:
        for row, record in numbered:
            if len(record) != width and not _trim(record, row, width, records.faults):
                continue
            block.append(record)
            rows.append(row)
            if len(block) == _ROWS_AT_ONCE:
                _move(block, records.columns)
                if len(rows) > MOST_ROWS or len(rows) * width > MOST_CELLS:
                    raise _Refused("table-too-long", row, rows=f"{MOST_ROWS:,}", cells=f"{MOST_CELLS:,}")
    finally:
        _move(block, records.columns)


def _move(block: list[list[str]], columns: Sequence[list[str]]) -> None:
    for column, cells in zip(columns, zip(*block, strict=True), strict=False):
        column += cells
    block.clear()


def _trim(record: list[str], row: int, width: int, faults: list[Fault]) -> bool:
    """Whether the cells beyond the header are empty, and could go."""
    if len(record) < width or any(map(str.strip, record[width:])):
        faults.append(Fault("table-ragged", row, values={"found": len(record), "expected": width}))
        return False
    del record[width:]
    return True


def tell_blank_rows(records: Records) -> None:
    """One notice for blank rows between the data; blank rows at the end are no news."""
    numbers = [records.header_row, *records.rows]
    blank = numbers[-1] - records.header_row - len(records.rows)
    if blank and not records.faults:
        first = next(a + 1 for a, b in pairwise(numbers) if b != a + 1)
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
