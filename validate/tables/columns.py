"""Which column of the file is which, and its cells as values of the column's type."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from validate.protocol.settings import DataSource
from validate.tables.cells import (
    Read,
    read_date_cell,
    read_level_cell,
    read_number_cell,
)
from validate.tables.faults import PROBLEMS, Fault
from validate.tables.table import Column
from validate.tables.times import read_time_cell
from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem
from validate.vocabulary.quantity import conversion_factor

_LONGEST_NAME = 80
_UNIT_BEHIND_NAME = re.compile(r"(.*\S)\s*\[\s*([^\[\]]*?)\s*\]")


@dataclass(frozen=True)
class FileColumn:
    """A column of the study, found in the file. `position` counts from 0; `header` is as written."""

    column: Column
    position: int
    header: str
    decimal: str = "."
    factor: float = 1.0

    @property
    def role(self) -> str:
        return self.column.role

    @property
    def name(self) -> str:
        """The header without a unit in brackets."""
        return bare_name(self.header)

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
        if not cell and column.censored and column.type != "label":
            return Read()
        if column.type == "level":
            return read_level_cell(cell, decimal=self.decimal, factor=self.factor, minimum=column.minimum)
        if column.type in ("date", "time"):
            return read_date_cell(cell) if column.type == "date" else read_time_cell(cell)
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
    """Match the study's columns with the header, as written or as the protocol maps them.

    A unit may stand behind the name in brackets: `found [µg/kg]`.
    """
    found = Found()
    _check_roles(source, columns, source_place, found)
    taken: dict[str, str] = {}
    for column in columns:
        name = source.columns.get(column.role, column.role)
        positions = positions_of(name, header)
        if not positions:
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
        position = positions[0]
        if len(positions) > 1:
            found.faults.append(Fault("table-column-doubled", header_row, position + 1))
        factor = _factor(column, source, method_unit, source_place, found)
        if header[position] != name and column.type in ("number", "level"):
            target = method_unit if column.unit == "method" else column.unit
            where = Fault("", header_row, position + 1, header[position])
            factor = _factor_of_header(where, source.units.get(column.role), target, factor, found)
        found.columns.append(FileColumn(column, position, header[position], factor=factor))
    return found


def bare_name(header: str) -> str:
    """A column name without a unit in brackets behind it.

    >>> bare_name("found [µg/kg]")
    'found'
    """
    match = _UNIT_BEHIND_NAME.fullmatch(header)
    return match[1] if match else header


def positions_of(name: str, header: Sequence[str]) -> list[int]:
    """Where `name` stands in the header: as written, else with a unit in brackets behind it."""
    exact = [i for i, written in enumerate(header) if written == name]
    return exact or [i for i, written in enumerate(header) if bare_name(written) == name]


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


def _factor_of_header(where: Fault, declared: str | None, target: str, factor: float, found: Found) -> float:
    """The factor from the unit in the header; a unit that the protocol declares must be the same."""
    match = _UNIT_BEHIND_NAME.fullmatch(where.cell)
    unit = match[2] if match else ""
    if not target:
        return factor
    values = {"unit": unit, "target": target, "declared": declared or ""}
    try:
        in_header = conversion_factor(unit, target)
    except ValueError:
        found.faults.append(where._replace(code="units-header-unfit", values=values))
        return factor
    if declared is not None and conversion_factor(unit, declared) != 1:
        found.faults.append(where._replace(code="units-header-differs", values=values))
    elif declared is None and in_header != 1:
        found.faults.append(where._replace(code="units-header-converted", values=values))
    return in_header


def with_decimal(columns: Sequence[FileColumn], decimal: str) -> list[FileColumn]:
    return [replace(column, decimal=decimal) for column in columns]
