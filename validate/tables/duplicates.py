"""Rows that stand in a table twice."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from validate.tables.faults import Fault
from validate.tables.sheet import Sheet
from validate.tables.table import Column, row_ranges

if TYPE_CHECKING:
    import pandas as pd

_MOST_ROWS_LISTED = 20


def duplicate_faults(
    sheet: Sheet, asked: Sequence[Column], recorded: pd.DataFrame, reported: pd.DataFrame
) -> list[Fault]:
    """Rows with the same identifying columns (an error), or the same in every cell (a notice).

    Rows can only be told apart by their identifying columns when the file has all of
    them; a row with an empty one has no name to share. A duplicate that a treatment
    resolves is told, and no error.
    """
    names = [column.role for column in asked if column.identifies]
    if not names or any(name not in reported.columns for name in names):
        return _identical(sheet)
    open_faults = _repeats("table-duplicate", sheet, reported, names)
    if recorded is reported:
        return open_faults
    still_open = {fault.row for fault in open_faults}
    treated = _repeats("table-duplicate-treated", sheet, recorded, names)
    return open_faults + [fault for fault in treated if fault.row not in still_open]


def _repeats(code: str, sheet: Sheet, frame: pd.DataFrame, names: Sequence[str]) -> list[Fault]:
    keys = frame[list(names)]
    repeated = keys[keys.duplicated(keep=False)]
    repeated = repeated[(repeated != "").all(axis="columns")]
    first: dict[tuple[object, ...], int] = {}
    position = next(column.position for column in sheet.columns if column.role == names[0])
    faults = []
    for row, *key in repeated.itertuples(name=None):
        earlier = first.setdefault(tuple(key), row)
        if earlier != row:
            said = ", ".join(f"{name} {value}" for name, value in zip(names, key, strict=True))
            faults.append(Fault(code, row, position + 1, values={"said": said, "earlier": earlier}))
    return faults


def _identical(sheet: Sheet) -> list[Fault]:
    seen: set[tuple[str, ...]] = set()
    again = []
    for row, cells in zip(sheet.rows, zip(*sheet.records.columns, strict=True), strict=True):
        if cells in seen:
            again.append(row)
        else:
            seen.add(cells)
    if not again:
        return []
    rows = row_ranges(again[:_MOST_ROWS_LISTED]) + (", …" if len(again) > _MOST_ROWS_LISTED else "")
    return [Fault("table-identical-rows", again[0], values={"count": f"{len(again):,}", "rows": rows})]
