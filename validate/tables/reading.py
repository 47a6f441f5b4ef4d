"""Read a study's table: bytes → records → typed columns → treatments → two tables.

A text table and a sheet of a workbook differ only in how they become records.

Everything that is wrong is collected; nothing but a programming error is raised.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from validate.protocol.settings import DataSource
from validate.tables.columns import find_columns, with_decimal
from validate.tables.duplicates import duplicate_faults
from validate.tables.faults import PROBLEMS, Fault, in_words
from validate.tables.files import read_inside
from validate.tables.header import header_notices
from validate.tables.sheet import Sheet
from validate.tables.sheet_table import SheetTable
from validate.tables.table import Column, Table
from validate.tables.text_table import TextTable
from validate.tables.treatment import Treatment, treat
from validate.vocabulary.evaluation import Amendment, Exclusion
from validate.vocabulary.place import Place
from validate.vocabulary.problem import ERROR, InputRefused, Problem

if TYPE_CHECKING:
    from validate.protocol.settings import AmendmentSettings, ExclusionSettings

LARGEST_TABLE_BYTES = 64_000_000
_OTHER_SPREADSHEETS = (".xls", ".xlsb", ".ods", ".numbers")


@dataclass(frozen=True, kw_only=True)
class TableReading:
    """A table as recorded (no treatment) and as reported (all amendments and exclusions applied).

    Both are None when there is an error among `problems`. A row whose cell cannot be read
    until an amendment mends it is not in the table as recorded; a notice says so.
    """

    file: str
    """Name below the protocol's folder."""
    shown: str
    """Path for messages."""
    sheet: str = ""
    """Name of the sheet in a workbook."""
    content: bytes = b""
    read_as: str = ""
    """One sentence: encoding, delimiter, decimal sign; or the sheet of a workbook."""
    problems: tuple[Problem, ...] = ()
    recorded: Table | None = None
    reported: Table | None = None
    amendments: tuple[Amendment, ...] = ()
    exclusions: tuple[Exclusion, ...] = ()
    amended: Table | None = None
    """All amendments applied, no exclusion."""
    excluded: tuple[tuple[int, ...], ...] = ()
    """File rows of each exclusion."""
    positions: tuple[tuple[str, int], ...] = ()
    """Role and column of the file, counted from 1."""

    def lifting(self, exclusion: int) -> Table:
        """The table as reported, but with exclusion number `exclusion` (from 0) lifted."""
        if self.amended is None:
            raise ValueError("the table has errors; there is nothing to lift an exclusion from")
        if not 0 <= exclusion < len(self.excluded):
            raise IndexError(f"exclusion {exclusion} of {len(self.excluded)}")
        out = {row for i, rows in enumerate(self.excluded) if i != exclusion for row in rows}
        return _without(self.amended, out)

    def leaving_out(self, groups: Sequence[tuple[Exclusion, Sequence[int]]]) -> TableReading:
        """The reading with further exclusions, each with its file rows, that no entry of the protocol names."""
        if self.amended is None:
            raise ValueError("the table has errors; there is nothing to leave out")
        excluded = (*self.excluded, *(tuple(rows) for _, rows in groups))
        return replace(
            self,
            exclusions=(*self.exclusions, *(exclusion for exclusion, _ in groups)),
            excluded=excluded,
            reported=_without(self.amended, {row for rows in excluded for row in rows}),
        )

    @property
    def name(self) -> str:
        """The table's name for findings and treatments: `recovery.csv`, `results.xlsx!Recovery`."""
        return f"{self.file}!{self.sheet}" if self.sheet else self.file

    @property
    def place(self) -> Place:
        return Place(self.shown, sheet=self.sheet)

    def cell(self, row: int, role: str) -> Place:
        """The place of a cell, for messages of a study's own check."""
        return replace(self.place, line=row, column=dict(self.positions).get(role))


def read_table(
    folder: Path,
    source: DataSource,
    columns: tuple[Column, ...],
    *,
    method_unit: str,
    shown_folder: str,
    source_place: Callable[..., Place],
    amendments: Sequence[tuple[AmendmentSettings, Place]] = (),
    exclusions: Sequence[tuple[ExclusionSettings, Place]] = (),
    marks: Mapping[str, str] | None = None,
) -> TableReading:
    """The table `source.file` below `folder`, with the columns that a study asks for.

    `source_place("file")`, `source_place("columns", role)` are places below the study's
    `data` in the protocol. Only treatments of this file are given. `marks` holds the
    protocol's `protocol` (id), `edition` and `design hash`, which an entry workbook must share.
    """
    shown = source.file if shown_folder in ("", ".") else f"{shown_folder.rstrip('/')}/{source.file}"
    reading = TableReading(file=source.file, shown=shown)
    try:
        reading = replace(reading, content=_content(folder, source, source_place))
        written = _written(reading, source, source_place, marks or {})
    except InputRefused as refused:
        return replace(reading, problems=refused.problems)
    reading = replace(reading, sheet=written.sheet_name)
    return _read(reading, written, source, columns, method_unit, source_place, amendments, exclusions)


def _content(folder: Path, source: DataSource, source_place: Callable[..., Place]) -> bytes:
    place = source_place("file")
    if source.file.casefold().endswith(_OTHER_SPREADSHEETS):
        raise InputRefused([PROBLEMS.problem("table-spreadsheet", place, file=source.file)])
    try:
        return read_inside(folder, source.file, largest_bytes=LARGEST_TABLE_BYTES)
    except InputRefused as refused:
        raise InputRefused(replace(problem, place=place) for problem in refused.problems) from None


def _written(
    reading: TableReading, source: DataSource, source_place: Callable[..., Place], marks: Mapping[str, str]
) -> TextTable | SheetTable:
    if source.is_workbook:
        return SheetTable(reading.content, source, reading.shown, source_place, marks)
    return TextTable(reading.content, source, reading.shown)


def _read(
    reading: TableReading,
    written: TextTable | SheetTable,
    source: DataSource,
    columns: tuple[Column, ...],
    method_unit: str,
    source_place: Callable[..., Place],
    amendments: Sequence[tuple[AmendmentSettings, Place]],
    exclusions: Sequence[tuple[ExclusionSettings, Place]],
) -> TableReading:
    records = written.records
    found = find_columns(
        records.header, records.header_row, source, columns, method_unit=method_unit, source_place=source_place
    )
    names = [source.columns.get(column.role, column.role) for column in columns if column.required]
    elsewhere = written.later_header(names)
    if elsewhere or records.broken:
        problems = [] if elsewhere else found.problems
        faults = [elsewhere] if elsewhere else records.faults + found.faults
        told = in_words(faults, reading.place, records.header)
        return replace(reading, problems=(*written.problems, *problems, *told))
    read = [c for c in found.columns if c.column.required or not records.empty(c.position)]
    faults = [*records.faults, *found.faults, *header_notices(records, found.columns, read), *written.notices(read)]
    if not records.rows and not records.lost_rows:
        faults.append(Fault("table-no-rows", records.header_row))
    decimal = written.decimal_sign([column for column in read if column.numeric])
    if decimal.unclear:
        faults.append(Fault("table-decimal-unclear", records.header_row, cell=decimal.unclear))
    sheet = Sheet(records, with_decimal(read, decimal.sign))
    reading = replace(
        reading,
        read_as=written.sentence(decimal.sign),
        positions=tuple((column.role, column.position + 1) for column in sheet.columns),
        problems=(*written.problems, *found.problems),
    )
    sheet.type_all()
    faults += written.check_cells(sheet)
    # A treatment of a row that could not be read would be told as one that matches nothing.
    treatment = Treatment() if records.lost_rows else treat(sheet, reading.name, amendments, exclusions)
    treatment.problems += _of_another_sheet([*amendments, *exclusions], reading)
    return _finish(reading, sheet, columns, faults, treatment)


def _of_another_sheet(
    treatments: Sequence[tuple[AmendmentSettings | ExclusionSettings, Place]], reading: TableReading
) -> list[Problem]:
    return [
        PROBLEMS.problem("treatment-of-other-sheet", place, sheet=settings.sheet, read=reading.sheet)
        for settings, place in treatments
        if settings.sheet not in (None, reading.sheet)
    ]


def _finish(
    reading: TableReading, sheet: Sheet, columns: Sequence[Column], faults: list[Fault], treatment: Treatment
) -> TableReading:
    """Both tables, or the errors. A fault in a treated cell or an excluded row is told, and no error."""
    rows, excluded = sheet.rows, treatment.excluded_rows
    cell_faults = sheet.faults()
    for (i, role), fault in cell_faults.items():
        treated = (i, role) in treatment.amended or i in excluded
        faults.append(fault._replace(code="cell-unreadable-treated") if treated else fault)
    for typed in sheet.typed.values():
        faults += typed.others
    values, marks = sheet.frames()
    everything = Table(reading.name, values, marks)
    mended = _amended(everything, sheet, treatment)
    left_out = {rows[i] for i in excluded}
    unmended = {rows[i] for i, role in cell_faults if (i, role) not in treatment.amended}
    faults += duplicate_faults(sheet, columns, everything.frame, _without(mended, left_out).frame)
    recorded = _without(everything, {rows[i] for i, _ in cell_faults})
    amended = _without(mended, unmended)
    reported = _without(amended, left_out)
    titles = {column.position + 1: column.column.title for column in sheet.columns}
    problems = [*reading.problems, *in_words(faults, reading.place, sheet.header, titles), *treatment.problems]
    reading = replace(
        reading,
        problems=tuple(problems),
        amendments=tuple(treatment.amendments),
        exclusions=tuple(treatment.exclusions),
    )
    if any(problem.severity == ERROR for problem in problems):
        return reading
    return replace(
        reading,
        recorded=recorded,
        reported=reported,
        amended=amended,
        excluded=tuple(tuple(rows[i] for i in group) for group in treatment.excluded),
    )


def _amended(table: Table, sheet: Sheet, treatment: Treatment) -> Table:
    if not treatment.amended:
        return table
    frame, marks = table.frame.copy(), table.marks.copy()
    for (i, role), new in treatment.amended.items():
        position = frame.columns.get_loc(role)
        frame.iat[i, position] = float("nan") if new.value is None else new.value
        marks.iat[i, position] = new.mark
    return Table(table.file, frame, marks)


def _without(table: Table, rows: set[int]) -> Table:
    if not rows:
        return table
    kept = ~table.frame.index.isin(sorted(rows))
    return Table(table.file, table.frame[kept], table.marks[kept])
