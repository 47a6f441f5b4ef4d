"""A sheet of a workbook as records, with what is to be said of its cells and their formats."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import islice

from validate.protocol.settings import DataSource
from validate.tables.archive import WorkbookRefused
from validate.tables.columns import FileColumn, listed, nearest, positions_of
from validate.tables.dialect import DecimalSign, detect_decimal
from validate.tables.entry_mark import mark_problems, marked_sheet
from validate.tables.faults import PROBLEMS, Fault
from validate.tables.records import Records
from validate.tables.sheet import Sheet
from validate.tables.sheet_cells import check_cells
from validate.tables.sheet_records import SheetRecords, sheet_records
from validate.tables.workbook import SheetEntry, Workbook
from validate.tables.worksheet import NUMBER, TEXT, SheetForm, sheet_rows
from validate.vocabulary.place import Place
from validate.vocabulary.problem import InputRefused, Problem

_ROWS_LOOKED_AT = 30
_KIND = 0x0F


class SheetTable:
    """The sheet that `source` names; raises InputRefused when it cannot be read.

    `marks` are the protocol's id, edition and design hash, compared with those of an entry workbook.
    """

    def __init__(
        self,
        content: bytes,
        source: DataSource,
        shown: str,
        source_place: Callable[..., Place],
        marks: Mapping[str, str],
    ) -> None:
        self._decimal = source.decimal
        place = Place(shown)
        try:
            self.workbook = Workbook(content)
            self.entry = chosen_sheet(self.workbook, source.sheet, source_place)
            place = Place(shown, sheet=self.entry.name)
            self.form = SheetForm()
            self._cells: SheetRecords = sheet_records(sheet_rows(self.workbook, self.entry, self.form))
            self.problems = (*mark_problems(self.workbook, shown, marks), *self._of_the_workbook(Place(shown)))
        except WorkbookRefused as refused:
            raise InputRefused([PROBLEMS.problem(refused.code, place, **refused.values)]) from None

    def _of_the_workbook(self, place: Place) -> list[Problem]:
        """Told at the file, so that several studies of one workbook tell it once."""
        hidden = [sheet.name for sheet in self.workbook.sheets if sheet.hidden and sheet != self.entry]
        problems = [PROBLEMS.problem("workbook-hidden-sheets", place, names=listed(hidden))] if hidden else []
        return problems + ([PROBLEMS.problem("workbook-links", place)] if self.workbook.has_links else [])

    @property
    def sheet_name(self) -> str:
        return self.entry.name

    @property
    def records(self) -> Records:
        return self._cells.records

    def later_header(self, names: Sequence[str]) -> Fault | None:
        """Where the header is, when the first row has none of `names`."""
        records = self.records
        if not names or any(positions_of(name, records.header) for name in names):
            return None
        rows = zip(*(column[:_ROWS_LOOKED_AT] for column in records.columns), strict=True)
        for row, cells in zip(records.rows, islice(rows, _ROWS_LOOKED_AT), strict=False):
            written = list(map(str.strip, cells))
            if all(positions_of(name, written) for name in names):
                return Fault("table-header-later", row)
        return None

    def decimal_sign(self, numeric: Sequence[FileColumn]) -> DecimalSign:
        """The sign of numbers that are kept as text (`<0,5`); stored numbers are then written with it.

        A number in a workbook has no sign of its own; so one column has one sign.
        """
        sign = DecimalSign(self._decimal or ".")
        if self._decimal is None:
            sign = detect_decimal((self._cells_of(column, TEXT) for column in numeric), ";")
        if sign.sign == ",":
            for column in numeric:
                cells = self.records.columns[column.position]
                for i, kind in enumerate(self._cells.kinds[column.position]):
                    if kind & _KIND == NUMBER:
                        cells[i] = cells[i].replace(".", ",")
        return sign

    def _cells_of(self, column: FileColumn, wanted: int) -> list[str]:
        kinds = self._cells.kinds[column.position]
        cells = self.records.columns[column.position]
        return [cell.strip() for cell, kind in zip(cells, kinds, strict=True) if kind & _KIND == wanted]

    def notices(self, read: Sequence[FileColumn]) -> list[Fault]:
        """What hides from the reader of the sheet, or does not hold where it seems to."""
        faults = [Fault("sheet-hidden", None)] if self.entry.hidden else []
        if rows := self._cells.hidden_rows:
            faults.append(Fault("sheet-hidden-rows", rows[0], values={"count": f"{len(rows):,}"}))
        header_row = self.records.header_row
        faults += [
            Fault("sheet-hidden-column", header_row, c.position + 1) for c in read if self.form.hides(c.position + 1)
        ]
        return faults + self._merged(read)

    def _merged(self, read: Sequence[FileColumn]) -> list[Fault]:
        """Cells merged in the header or the data of a column that is read: all but the first are empty."""
        numbers = [self.records.header_row, *self.records.rows[-1:]]
        faults = []
        for area in self.form.merged:
            if area.last_row < numbers[0] or area.first_row > numbers[-1]:
                continue
            touched = [c for c in read if area.first_column <= c.position + 1 <= area.last_column]
            if touched:
                faults.append(
                    Fault("sheet-merged", area.first_row, touched[0].position + 1, values={"area": area.name})
                )
        return faults

    def check_cells(self, sheet: Sheet) -> list[Fault]:
        return check_cells(sheet, self._cells.kinds, self.form.first_shown, linked=self.workbook.has_links)

    def sentence(self, decimal: str) -> str:
        how = "declared" if self._decimal else "detected"
        comma = f", decimal comma in numbers kept as text ({how})" if decimal == "," else ""
        return f'Read as XLSX workbook, sheet "{self.entry.name}", values as stored{comma}.'


def chosen_sheet(workbook: Workbook, name: str | None, source_place: Callable[..., Place]) -> SheetEntry:
    """The sheet called `name`, or the only visible one beside the first page of an entry workbook."""
    if name is None:
        if sheet := only_sheet(workbook):
            return sheet
        names = listed([sheet.name for sheet in _tables(workbook) or workbook.sheets], most=20)
        raise InputRefused([PROBLEMS.problem("workbook-sheet-unsaid", source_place("file"), names=names)])
    for sheet in workbook.sheets:
        if sheet.name == name:
            return sheet
    mend = nearest(name, [sheet.name for sheet in workbook.sheets])
    raise InputRefused([PROBLEMS.problem("workbook-sheet-missing", source_place("sheet"), name=name, mend=mend)])


def only_sheet(workbook: Workbook) -> SheetEntry | None:
    """The only visible sheet, the first page of an entry workbook left aside; None where there are several."""
    tables = _tables(workbook)
    return tables[0] if len(tables) == 1 else None


def _tables(workbook: Workbook) -> list[SheetEntry]:
    marked = marked_sheet(workbook)
    return [sheet for sheet in workbook.visible if sheet != marked]
