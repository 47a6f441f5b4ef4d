"""A table without its confidential columns, and without the order in which its rows came in."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Collection, Sequence

from validate.protocol.settings import DataSource
from validate.tables.columns import positions_of
from validate.tables.sheet_table import SheetTable
from validate.tables.text_table import TextTable
from validate.tables.writing import workbook_of
from validate.vocabulary.place import Place

NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?")


def rewritten(
    content: bytes,
    source: DataSource,
    *,
    keep: Collection[str],
    blank: Collection[str],
    order_by: str,
    numbers: Collection[str],
    created: dt.date,
) -> bytes:
    """The table in `content` with the columns `keep` (named as in the protocol's columns, by role) alone.

    Cells keep their text. Columns in `blank` stay and are empty. Rows are sorted by `order_by`
    and then by all that is kept, so that nothing of their order is left. `numbers` are roles
    whose cells become numbers where a workbook is written. The table was read before without
    an error.
    """
    written = _written(content, source)
    records = written.records
    found = {role: positions_of(source.columns.get(role, role), records.header) for role in keep}
    chosen = sorted((places[0], role) for role, places in found.items() if places)
    header = [records.header[position] for position, _ in chosen]
    columns = [[""] * len(records.rows) if role in blank else records.column(position) for position, role in chosen]
    first = next(i for i, (_, role) in enumerate(chosen) if role == order_by)
    rows = sorted(zip(*columns, strict=True), key=lambda row: (_natural(row[first]), row))
    if isinstance(written, SheetTable):
        numeric = {i for i, (_, role) in enumerate(chosen) if role in numbers}
        cells = [[_cell(cell, i in numeric) for i, cell in enumerate(row)] for row in rows]
        return workbook_of({written.sheet_name: [header, *cells]}, created=created, title="")
    return _text(header, rows, written)


def _written(content: bytes, source: DataSource) -> TextTable | SheetTable:
    if source.is_workbook:
        return SheetTable(content, source, source.file, lambda *_: Place(source.file), {})
    return TextTable(content, source, source.file)


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
