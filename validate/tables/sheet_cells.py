"""What a workbook's cells are beside their text: formulas, numbers kept as text, digits that are not shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from validate.tables.cells import Read, number_pattern
from validate.tables.columns import FileColumn
from validate.tables.faults import Fault
from validate.tables.sheet import Sheet
from validate.tables.worksheet import DRESSED, FORMULA, NO_VALUE, ROUNDED, TEXT

_KIND = 0x0F


def check_cells(
    sheet: Sheet, kinds: Sequence[bytearray], first_shown: Mapping[int, str], *, linked: bool
) -> list[Fault]:
    """Notices of the columns that are read; a cell that cannot be used becomes a fault of `sheet`.

    `first_shown` says how the first number of a column with hidden digits is shown.
    `linked`: the workbook takes values from elsewhere, so that what its formulas show cannot be traced.
    """
    faults = []
    for column in sheet.columns:
        of_column = kinds[column.position]
        if any(kind & FORMULA for kind in set(of_column)):
            faults += _formulas(sheet, column, of_column, linked=linked)
        faults += _notices(sheet, column, of_column, first_shown.get(column.position, ""))
    return faults


def _formulas(sheet: Sheet, column: FileColumn, kinds: bytearray, *, linked: bool) -> list[Fault]:
    """A formula is as good as the value that was saved with it: none, or one from elsewhere, is refused."""
    cells, typed = sheet.cells(column.position), sheet.typed[column.role]
    valued = []
    for i, kind in enumerate(kinds):
        if not kind & FORMULA:
            continue
        code = "cell-formula-without-value" if kind & NO_VALUE else "cell-formula-linked" if linked else ""
        if code:
            typed.faults[i] = column.fault(Read(code=code), sheet.rows[i], cells[i])
        else:
            valued.append(i)
    # A formula's text is not a label; what was said of it as one is taken back.
    refused = {sheet.rows[i] for i, kind in enumerate(kinds) if kind & NO_VALUE}
    typed.others = [fault for fault in typed.others if fault.row not in refused]
    return [_counted("column-formulas", sheet, column, valued)] if valued else []


def _notices(sheet: Sheet, column: FileColumn, kinds: bytearray, first_shown: str) -> list[Fault]:
    cells = sheet.cells(column.position)
    if not column.numeric:
        dressed = [i for i, kind in enumerate(kinds) if kind & DRESSED]
        return [_counted("column-format-adds", sheet, column, dressed)] if dressed else []
    notices = []
    is_number = number_pattern(column.decimal).fullmatch
    as_text = [i for i, kind in enumerate(kinds) if kind & _KIND == TEXT and is_number(cells[i])]
    rounded = [i for i, kind in enumerate(kinds) if kind & ROUNDED]
    if as_text:
        notices.append(_counted("column-text-numbers", sheet, column, as_text))
    if rounded:
        notices.append(_counted("column-digits-hidden", sheet, column, rounded, shown=first_shown))
    return notices


def _counted(code: str, sheet: Sheet, column: FileColumn, rows: Sequence[int], **values: str) -> Fault:
    first = rows[0]
    cell = sheet.cells(column.position)[first]
    return Fault(code, sheet.rows[first], column.position + 1, cell, {"count": f"{len(rows):,}", **values})
