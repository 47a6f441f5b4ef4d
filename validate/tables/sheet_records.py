"""The rows of a sheet as records by column, with the kind of each cell beside its text."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from validate.tables.archive import WorkbookRefused
from validate.tables.faults import Fault
from validate.tables.records import MOST_COLUMNS, Records, tell_blank_rows
from validate.tables.worksheet import SheetRow

MOST_SHEET_ROWS = 250_000
MOST_SHEET_CELLS = 5_000_000
"""Rows times columns. Larger tables are read from CSV, which needs a tenth of the time."""


@dataclass
class SheetRecords:
    """`kinds[position]` holds one byte for each cell of `records.columns[position]`, 0 where it is empty."""

    records: Records = field(default_factory=Records)
    kinds: list[bytearray] = field(default_factory=list)
    hidden_rows: list[int] = field(default_factory=list)


def sheet_records(rows: Iterable[SheetRow]) -> SheetRecords:
    """The first row that holds anything is the header; a column may have cells and no name.

    Raises WorkbookRefused for a sheet without any cell or beyond the bounds.
    """
    found = SheetRecords()
    header: dict[int, str] = {}
    columns: list[list[str]] = []
    kinds: list[bytearray] = []
    numbers = found.records.rows
    for row, hidden, cells in rows:
        width = cells[-1][0] + 1
        if width > MOST_COLUMNS:
            found.records.header_row = found.records.header_row if header else row
            found.records.broken = True
            values = {"count": f"{width:,}", "limit": f"{MOST_COLUMNS:,}"}
            found.records.faults.append(Fault("table-too-wide", row, values=values))
            break
        while len(columns) < width:
            columns.append([])
            kinds.append(bytearray())
        if not header:
            header = {position: text.strip() for position, text, _ in cells}
            found.records.header_row = row
            continue
        count = len(numbers)
        for position, text, kind in cells:
            _pad(columns[position], kinds[position], count)
            columns[position].append(text)
            kinds[position].append(kind)
        numbers.append(row)
        if hidden:
            found.hidden_rows.append(row)
        if len(numbers) > MOST_SHEET_ROWS or len(numbers) * len(columns) > MOST_SHEET_CELLS:
            raise WorkbookRefused("workbook-sheet-too-long", limit=f"{MOST_SHEET_ROWS:,} rows")
    if not header and not found.records.broken:
        raise WorkbookRefused("workbook-sheet-empty")
    for column, kind in zip(columns, kinds, strict=True):
        _pad(column, kind, len(numbers))
    found.records.header = tuple(header.get(position, "") for position in range(len(columns)))
    found.records.columns = columns
    found.kinds = kinds
    tell_blank_rows(found.records)
    return found


def _pad(column: list[str], kinds: bytearray, length: int) -> None:
    missing = length - len(column)
    if missing:
        column += [""] * missing
        kinds += bytes(missing)
