"""A table without its confidential columns, and without the order in which its rows came in."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Collection, Mapping, Sequence

from validate.protocol.settings import DataSource
from validate.tables.sheet_table import SheetTable
from validate.tables.text_table import TextTable
from validate.tables.writing import workbook_of
from validate.vocabulary.place import Place

NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?")
MARKED = "yes"
"""What stands in a marked row of an added column."""


def rewritten(
    content: bytes,
    source: DataSource,
    *,
    keep: Collection[int],
    numbers: Collection[int],
    created: dt.date,
    order_by: int | None = None,
    changed: Mapping[tuple[int, int], str] | None = None,
    marked: Mapping[str, Collection[int]] | None = None,
) -> bytes:
    """The table in `content` with the columns at the positions `keep` (from 0) alone.

    Cells keep their text, but for those in `changed` ((file row, position) → text). Rows are
    sorted by the column `order_by` and then by all that is kept, so that nothing of their order is
    left; None keeps it. `marked` adds columns at the end that hold "yes" in some file rows. `numbers`
    are positions whose cells become numbers where a workbook is written. The table was read before
    without an error.
    """
    written = _written(content, source)
    records, changed, marked = written.records, changed or {}, marked or {}
    chosen = sorted(keep)
    columns = [
        [changed.get((row, position), cell) for row, cell in zip(records.rows, records.column(position), strict=True)]
        for position in chosen
    ]
    columns += [[MARKED if row in rows else "" for row in records.rows] for rows in marked.values()]
    header = [*(records.header[position] for position in chosen), *marked]
    rows = list(zip(*columns, strict=True))
    if order_by is not None:
        first = chosen.index(order_by)
        rows.sort(key=lambda row: (_natural(row[first]), row))
    if isinstance(written, SheetTable):
        numeric = {i for i, position in enumerate(chosen) if position in numbers}
        cells = [[_cell(cell, i in numeric) for i, cell in enumerate(row)] for row in rows]
        return workbook_of({written.sheet_name: [header, *cells]}, created=created, title="")
    return _text(header, rows, written)


def _written(content: bytes, source: DataSource) -> TextTable | SheetTable:
    if source.is_workbook:
        return SheetTable(content, source, source.file, lambda *_: Place(source.file), {})
    return TextTable(content, source, source.file)


def header_of(content: bytes, source: DataSource) -> tuple[str, ...]:
    """The names above the columns of a table that was read before without an error."""
    return _written(content, source).records.header


def _text(header: Sequence[str], rows: Sequence[Sequence[str]], written: TextTable) -> bytes:
    stream = io.StringIO(newline="")
    csv.writer(stream, lineterminator="\n", delimiter=written.delimiter).writerows([header, *rows])
    return stream.getvalue().encode(written.encoding)


def _cell(text: str, numeric: bool) -> str | float | None:
    if not text:
        return None
    return float(text) if numeric and NUMBER.fullmatch(text) else text


def _natural(code: str) -> tuple[tuple[int, int, str], ...]:
    """L2 before L10."""
    return tuple((0, int(p), "") if p.isdecimal() else (1, 0, p) for p in re.split(r"([0-9]+)", code) if p)
