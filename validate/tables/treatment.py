"""Amendments and exclusions: found in the file, checked against what is written there, kept for the record.

`where` and `old` are compared with the cells as recorded. Nothing is changed unless the
row is found and the old value is the one in the file.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from validate.tables.cells import Read
from validate.tables.columns import FileColumn, nearest
from validate.tables.faults import PROBLEMS
from validate.tables.sheet import Sheet, key_of
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import Amendment, Exclusion
from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem

if TYPE_CHECKING:
    from validate.protocol.settings import AmendmentSettings, ExclusionSettings

_MOST_HINTS = 10
_MOST_CANDIDATES = 2_000


@dataclass
class Treatment:
    """What the protocol changes in one file. Rows are counted from 0."""

    amended: dict[tuple[int, str], Read] = field(default_factory=dict)
    """(row, role) → new value."""
    excluded: list[list[int]] = field(default_factory=list)
    """Rows of each exclusion, in the order of the protocol."""
    amendments: list[Amendment] = field(default_factory=list)
    exclusions: list[Exclusion] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    @property
    def excluded_rows(self) -> set[int]:
        return {i for rows in self.excluded for i in rows}


def treat(
    sheet: Sheet,
    file: str,
    amendments: Sequence[tuple[AmendmentSettings, Place]],
    exclusions: Sequence[tuple[ExclusionSettings, Place]],
) -> Treatment:
    """Find and check every amendment and exclusion of `file`; whatever does not fit is a problem at its place."""
    treatment = Treatment()
    finder = _Finder(sheet, treatment.problems)
    for settings, place in amendments:
        _amend(sheet, finder, file, settings, place, treatment)
    for settings, place in exclusions:
        _exclude(sheet, finder, file, settings, place, treatment)
    if sheet.rows and len(treatment.excluded_rows) == len(sheet.rows):
        treatment.problems.append(PROBLEMS.problem("exclusion-leaves-nothing", exclusions[-1][1], file=file))
    return treatment


def _amend(
    sheet: Sheet, finder: _Finder, file: str, settings: AmendmentSettings, place: Place, treatment: Treatment
) -> None:
    rows = finder.find(settings.where, place)
    position = sheet.position(settings.column)
    if position is None:
        mend = nearest(settings.column, sheet.header)
        _tell(treatment, "amendment-column-unknown", place, column=settings.column, file=file, mend=mend)
        return
    if rows is None:
        return
    if len(rows) > 1:
        found = row_ranges(sheet.rows[i] for i in rows)
        _tell(treatment, "amendment-not-unique", place, count=f"{len(rows):,}", rows=found)
        return
    column = sheet.by_position.get(position)
    if column is None:
        _tell(treatment, "amendment-column-unread", place, column=settings.column)
        return
    i, cell = rows[0], sheet.cells(position)[rows[0]]
    new = _new_value(sheet, column, i, cell, settings, place, treatment)
    if new is None:
        return
    if column.column.identifies or settings.column in settings.where or column.role in settings.where:
        _tell(treatment, "amendment-identifies", place, column=settings.column, row=sheet.rows[i])
    treatment.amended[i, column.role] = new
    treatment.amendments.append(
        Amendment(
            file=file,
            where=_texts(settings.where),
            column=settings.column,
            old=cell,
            new=str(settings.new).strip(),
            by=str(settings.by),
            on=str(settings.on),
            reason=str(settings.reason),
            row=sheet.rows[i],
        )
    )


def _new_value(
    sheet: Sheet,
    column: FileColumn,
    i: int,
    cell: str,
    settings: AmendmentSettings,
    place: Place,
    treatment: Treatment,
) -> Read | None:
    """The new value by the rules of its column, when the old one is the one in the file."""
    row, old, text = sheet.rows[i], str(settings.old).strip(), str(settings.new).strip()
    if not _same(column, cell, old):
        _tell(treatment, "amendment-old-differs", place, row=row, column=column.header, cell=cell, old=old)
        return None
    if (i, column.role) in treatment.amended:
        _tell(treatment, "amendment-twice", place, row=row, column=column.header)
        return None
    if _same(column, cell, text):
        _tell(treatment, "amendment-changes-nothing", place, row=row, column=column.header, cell=cell)
        return None
    # The protocol is written with a decimal point, whatever the file uses; the file's own form is understood too.
    new = replace(column, decimal=".").read(text)
    if new.code:
        new = column.read(text)
    if new.code:
        why = PROBLEMS.entries[new.code]["title"]
        _tell(treatment, "amendment-new-unfit", place, new=text, column=column.header, why=why)
        return None
    return new


def _same(column: FileColumn, cell: str, text: str) -> bool:
    """Whether a text of the protocol is the cell: as written, or the same number."""
    if cell == text:
        return True
    return key_of(column)(cell) in (key_of(replace(column, decimal="."))(text), key_of(column)(text))


def _exclude(
    sheet: Sheet, finder: _Finder, file: str, settings: ExclusionSettings, place: Place, treatment: Treatment
) -> None:
    rows = finder.find(settings.where, place)
    if rows is None:
        treatment.excluded.append([])
        return
    amended = sorted({i for i, _ in treatment.amended} & set(rows))
    if amended:
        _tell(treatment, "exclusion-of-amended", place, rows=row_ranges(sheet.rows[i] for i in amended))
    again = sorted(treatment.excluded_rows & set(rows))
    if again:
        _tell(treatment, "exclusion-overlaps", place, rows=row_ranges(sheet.rows[i] for i in again))
    treatment.excluded.append(rows)
    treatment.exclusions.append(
        Exclusion(
            file=file,
            where=_texts(settings.where),
            by=str(settings.by),
            on=str(settings.on),
            reason=str(settings.reason),
            rows=row_ranges(sheet.rows[i] for i in rows),
        )
    )


class _Finder:
    """Rows by the values of identifying columns; one index for each combination of columns."""

    def __init__(self, sheet: Sheet, problems: list[Problem]) -> None:
        self.sheet = sheet
        self.problems = problems
        self._indexes: dict[tuple[int, ...], dict[tuple[object, ...], list[int]]] = {}

    def find(self, where: Mapping[str, object], place: Place) -> list[int] | None:
        """The rows (from 0) that `where` names; None, and a problem told, when there is none."""
        positions = []
        for name in where:
            position = self.sheet.position(name)
            if position is None:
                mend = nearest(name, self.sheet.header)
                self.problems.append(PROBLEMS.problem("where-column-unknown", place, column=name, mend=mend))
                return None
            positions.append(position)
        texts = [str(text).strip() for text in where.values()]
        for keys in self._spellings(positions, texts):
            rows = self._index(tuple(positions)).get(keys)
            if rows:
                return rows
        said = ", ".join(f'{name} "{text}"' for name, text in zip(where, texts, strict=True))
        self.problems.append(PROBLEMS.problem("where-no-row", place, said=said, mend=self._hint(positions, texts)))
        return None

    def _spellings(self, positions: Sequence[int], texts: Sequence[str]) -> list[tuple[object, ...]]:
        """The texts as keys, read with the protocol's decimal point, then with the file's own sign."""
        columns = [self.sheet.by_position.get(position) for position in positions]
        pointed = [column and replace(column, decimal=".") for column in columns]
        return [
            tuple(key_of(column)(text) for column, text in zip(form, texts, strict=True)) for form in (pointed, columns)
        ]

    def _index(self, positions: tuple[int, ...]) -> dict[tuple[object, ...], list[int]]:
        if positions not in self._indexes:
            index: dict[tuple[object, ...], list[int]] = defaultdict(list)
            keys = [map(key_of(self.sheet.by_position.get(p)), self.sheet.cells(p)) for p in positions]
            for i, key in enumerate(zip(*keys, strict=True)):
                index[key].append(i)
            self._indexes[positions] = dict(index)
        return self._indexes[positions]

    def _hint(self, positions: Sequence[int], texts: Sequence[str]) -> str:
        """The nearest cell of the first column in which the text alone matches nothing."""
        if len(self.problems) < _MOST_HINTS:
            for position, text in zip(positions, texts, strict=True):
                [key] = self._spellings([position], [text])[:1]
                if key not in self._index((position,)):
                    cells = list(dict.fromkeys(self.sheet.cells(position)))
                    return f'"{self.sheet.header[position]}": {nearest(text, cells[:_MOST_CANDIDATES])}'
        return "each value stands in the file, but not in one row" if len(texts) > 1 else "compare with the file"


def _texts(where: Mapping[str, object]) -> dict[str, str]:
    return {name: str(text).strip() for name, text in where.items()}


def _tell(treatment: Treatment, code: str, place: Place, **values: object) -> None:
    treatment.problems.append(PROBLEMS.problem(code, place, **values))
