"""What is wrong or worth telling before a precision study is evaluated."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from validate.studies.contract import CheckInput
from validate.studies.precision.declared import names_of
from validate.studies.precision.groups import LevelData, by_level, cell_codes, why_unusable
from validate.studies.precision.kinds import BY_NAME
from validate.studies.precision.settings import Factor, PrecisionSettings
from validate.studies.precision.words import plural
from validate.vocabulary.problem import Problem, ProblemCatalogue

if TYPE_CHECKING:
    from validate.tables.table import Table

PROBLEMS = ProblemCatalogue(__file__)


def check(asked: CheckInput) -> Iterator[Problem]:
    """Problems of settings and table of one study, all at once."""
    settings: PrecisionSettings = asked.settings  # type: ignore[assignment]
    yield from _findings_of_another_design(asked, settings)
    yield from _claimed_levels(asked, settings)
    if asked.table is None:
        return
    if len(asked.table.frame) == 0:
        yield PROBLEMS.problem("no-results", asked.place("data"), study=asked.name)
        return
    yield from _undeclared_levels(asked, settings, asked.table)
    yield from _labels_missing(asked, settings, asked.table)
    levels = by_level(asked.table, settings, asked.method)
    faults = [problem for data in levels for problem in _level_faults(asked, settings, data)]
    usable = [data for data in levels if not why_unusable(data, settings.design)]
    if not usable:
        yield PROBLEMS.problem(
            "no-usable-level", asked.place("design"), study=asked.name, reason=why_unusable(levels[0], settings.design)
        )
    yield from faults
    for data in usable:
        yield from _arrangement_told(asked, settings, data)


def _findings_of_another_design(asked: CheckInput, settings: PrecisionSettings) -> Iterator[Problem]:
    given = names_of(settings)
    for name in settings.accept:
        if name in BY_NAME and name not in given:
            yield PROBLEMS.problem(
                "finding-of-another-design",
                asked.place("accept", name),
                finding=name,
                outer=settings.design.outer.called,
                given=", ".join(given),
            )


def _claimed_levels(asked: CheckInput, settings: PrecisionSettings) -> Iterator[Problem]:
    for level in settings.claimed.s_r if settings.claimed else ():
        if level and level not in settings.design.levels:
            yield PROBLEMS.problem(
                "claim-at-unknown-level",
                asked.place("claimed", "s_r"),
                level=level,
                declared=", ".join(settings.design.levels) or "none",
            )


def _undeclared_levels(asked: CheckInput, settings: PrecisionSettings, table: Table) -> Iterator[Problem]:
    if "level" not in table.frame:
        return
    found = table.frame["level"].to_numpy(dtype=object)
    different = list(dict.fromkeys(found.tolist()))
    if not settings.design.levels:
        if len(different) > 1:
            yield PROBLEMS.problem(
                "levels-not-declared",
                asked.place("design"),
                count=len(different),
                levels=", ".join(map(str, different[:8])),
            )
        return
    for level in different:
        if level not in settings.design.levels:
            row = int(table.frame.index[found == level][0])
            declared = ", ".join(settings.design.levels)
            yield PROBLEMS.problem("undeclared-level", asked.cell(row, "level"), level=level, declared=declared)


def _labels_missing(asked: CheckInput, settings: PrecisionSettings, table: Table) -> Iterator[Problem]:
    for factor in settings.design.factors:
        if factor.column not in table.frame:
            continue
        column = table.frame[factor.column]
        empty = column.isna() | (column == "")
        for row in table.frame.index[empty.to_numpy(dtype=bool)][:10]:
            yield PROBLEMS.problem("label-missing", asked.cell(int(row), factor.column), factor=factor.called)


def _level_faults(asked: CheckInput, settings: PrecisionSettings, data: LevelData) -> Iterator[Problem]:
    why = why_unusable(data, settings.design)
    if not why:
        return
    place = (
        asked.place("design", "levels", settings.design.levels.index(data.level))
        if data.level
        else asked.place("design")
    )
    yield PROBLEMS.problem("level-unusable", place, level=data.level or "the study", reason=why)


def _arrangement_told(asked: CheckInput, settings: PrecisionSettings, data: LevelData) -> Iterator[Problem]:
    design = settings.design
    at = f" at level {data.level}" if data.level else ""
    if design.kind == "nested":
        inner = design.inner[0]
        if _reused(data, design.outer, inner):
            yield PROBLEMS.problem(
                "nested-labels-reused",
                asked.place("design", "inner"),
                inner=inner.called,
                outer=design.outer.called,
                at=at,
            )
    if design.kind == "crossed":
        cells = int(cell_codes(data, tuple(factor.column for factor in design.factors)).max()) + 1
        full = int(np.prod([data.count(factor.column) for factor in design.factors]))
        if cells < full:
            yield PROBLEMS.problem(
                "crossing-incomplete",
                asked.place("design", "inner"),
                empty=full - cells,
                full=full,
                factors=" × ".join(plural(factor.called) for factor in design.factors),
                at=at,
            )
        if data.n <= cells:
            yield PROBLEMS.problem("crossing-not-repeated", asked.place("design", "inner"), at=at)


def _reused(data: LevelData, outer: Factor, inner: Factor) -> bool:
    cells = int(cell_codes(data, (outer.column, inner.column)).max()) + 1
    return cells > data.count(inner.column)
