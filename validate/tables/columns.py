"""Which column of the file is which, and its cells as values of the column's type."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from validate.protocol.settings import DataSource
from validate.tables.cells import (
    Read,
    read_date_cell,
    read_level_cell,
    read_number_cell,
)
from validate.tables.faults import PROBLEMS, Fault
from validate.tables.table import Column
from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem
from validate.vocabulary.quantity import conversion_factor

if TYPE_CHECKING:
    pass

_LONGEST_NAME = 80
_MOST_GROUPS = 1_000


@dataclass(frozen=True)
class FileColumn:
    """A column of the study, found in the file. `position` counts from 0."""

    column: Column
    position: int
    header: str
    decimal: str = "."
    factor: float = 1.0

    @property
    def role(self) -> str:
        return self.column.role

    @property
    def numeric(self) -> bool:
        return self.column.type in ("number", "level")

    def read(self, cell: str) -> Read:
        """One cell (without surrounding spaces) by the rules of this column."""
        column = self.column
        if column.type == "number":
            return read_number_cell(
                cell, decimal=self.decimal, factor=self.factor, minimum=column.minimum, censored=column.censored
            )
        if column.type == "level":
            return read_level_cell(cell, decimal=self.decimal, factor=self.factor, minimum=column.minimum)
        if column.type == "date":
            return read_date_cell(cell)
        if not cell and column.required:
            return Read(code="cell-empty")
        return Read(cell)

    def fault(self, read: Read, row: int, cell: str) -> Fault:
        return Fault(read.code, row, self.position + 1, cell, read.values)


@dataclass
class Found:
    """The study's columns in the file, in the study's order."""

    columns: list[FileColumn] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


def find_columns(
    header: Sequence[str],
    header_row: int,
    source: DataSource,
    columns: Sequence[Column],
    *,
    method_unit: str,
    source_place: Callable[..., Place],
) -> Found:
    """Match the study's columns with the header, exactly as written or as the protocol maps them."""
    found = Found()
    _check_roles(source, columns, source_place, found)
    taken: dict[str, str] = {}
    for column in columns:
        name = source.columns.get(column.role, column.role)
        if name not in header:
            if column.required or column.role in source.columns:
                _tell_missing(column, name, header, header_row, source, source_place, found)
            continue
        if name in taken:
            place = source_place("columns", column.role)
            found.problems.append(
                PROBLEMS.problem("columns-twice", place, name=name, role=column.role, other=taken[name])
            )
            continue
        taken[name] = column.role
        position = list(header).index(name)
        if list(header).count(name) > 1:
            found.faults.append(Fault("table-column-doubled", header_row, position + 1))
        factor = _factor(column, source, method_unit, source_place, found)
        found.columns.append(FileColumn(column, position, name, factor=factor))
    return found


def _check_roles(
    source: DataSource, columns: Sequence[Column], source_place: Callable[..., Place], found: Found
) -> None:
    roles = [column.role for column in columns]
    for key, mapping in (("columns", source.columns), ("units", source.units)):
        for role in mapping:
            if role not in roles:
                mend = nearest(role, roles)
                place = source_place(key, role)
                found.problems.append(PROBLEMS.problem("columns-unknown-role", place, key=key, role=role, mend=mend))


def _tell_missing(
    column: Column,
    name: str,
    header: Sequence[str],
    header_row: int,
    source: DataSource,
    source_place: Callable[..., Place],
    found: Found,
) -> None:
    mend = nearest(name, [h for h in header if h])
    if column.role in source.columns:
        place = source_place("columns", column.role)
        values = {"file": source.file, "name": name, "role": column.role, "mend": mend}
        found.problems.append(PROBLEMS.problem("columns-mapped-missing", place, **values))
    else:
        values = {"name": name, "title": column.title, "mend": mend}
        found.faults.append(Fault("table-column-missing", header_row, values=values))


def nearest(name: str, candidates: Sequence[str]) -> str:
    """`did you mean "Found"?`, or what there is."""
    short = {candidate[:_LONGEST_NAME]: candidate[:_LONGEST_NAME] for candidate in candidates}
    folded = {candidate.casefold(): candidate for candidate in reversed(short)}
    near = difflib.get_close_matches(name[:_LONGEST_NAME].casefold(), list(folded), n=1, cutoff=0.6)
    if near:
        return f'did you mean "{folded[near[0]]}"?'
    return f"there is: {listed(list(short))}" if short else "there is none"


def listed(names: Sequence[str], most: int = 8) -> str:
    """`"a", "b" and 3 more`."""
    shown = ", ".join(f'"{name[:40]}"' for name in names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most:,} more"


def _factor(
    column: Column, source: DataSource, method_unit: str, source_place: Callable[..., Place], found: Found
) -> float:
    declared = source.units.get(column.role)
    if declared is None:
        return 1.0
    target = method_unit if column.unit == "method" else column.unit
    if column.type not in ("number", "level") or not target:
        place = source_place("units", column.role)
        found.problems.append(PROBLEMS.problem("units-not-expected", place, role=column.role, unit=declared))
        return 1.0
    try:
        return conversion_factor(declared, target)
    except ValueError:
        place = source_place("units", column.role)
        values = {"role": column.role, "unit": declared, "target": target}
        found.problems.append(PROBLEMS.problem("units-do-not-convert", place, **values))
        return 1.0


def with_decimal(columns: Sequence[FileColumn], decimal: str) -> list[FileColumn]:
    return [replace(column, decimal=decimal) for column in columns]
