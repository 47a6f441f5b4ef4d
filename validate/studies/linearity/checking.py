"""What is wrong, or worth telling, in the settings and the table of a linearity study."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.contract import CheckInput
from validate.studies.linearity.settings import (
    BY_FUNCTION,
    FEWEST_LEVELS,
    POWERS,
    SET_POINTS,
    SIGNAL,
    LinearitySettings,
    reading_role,
)
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)
FEWEST_FOR_A_LINE = 3
MOST_CELLS = 20
"""Cells of one kind of fault that are named one by one."""


def problems_of(job: CheckInput) -> Iterator[Problem]:
    """Problems of the settings first, then those of the table."""
    settings: LinearitySettings = job.settings  # type: ignore[assignment]
    yield from _levels(job, settings)
    yield from _weights(job, settings)
    yield from _form(job, settings)
    yield from _bounds(job, settings)
    if job.table is not None:
        yield from _table(job, settings)


def _levels(job: CheckInput, settings: LinearitySettings) -> Iterator[Problem]:
    place, levels = job.place("design", "levels"), list(dict.fromkeys(settings.design.levels))
    if settings.form == SET_POINTS:
        return
    if len(levels) == 1:
        yield PROBLEMS.problem("linearity-one-level", place, level=levels[0])
    elif len(levels) < FEWEST_FOR_A_LINE:
        yield PROBLEMS.problem("linearity-two-points", place, levels=" and ".join(levels))
    elif (above := sum(float(level) > 0 for level in levels)) < FEWEST_LEVELS:
        yield PROBLEMS.problem("linearity-few-levels", place, count=above, needed=FEWEST_LEVELS)
    if settings.design.replicates * (settings.design.days or 1) == 1 and settings.accept:
        yield PROBLEMS.problem("linearity-no-replicates", job.place("design", "replicates"))
    if settings.design.replicates == 0:
        yield PROBLEMS.problem("linearity-nothing-planned", job.place("design", "replicates"))


def _weights(job: CheckInput, settings: LinearitySettings) -> Iterator[Problem]:
    relative, floor = settings.weights in POWERS, settings.weight_floor
    zeros = [i for i, level in enumerate(settings.design.levels) if float(level) == 0]
    lowest = min((float(level) for level in settings.design.levels if float(level) > 0), default=1.0)
    if relative and floor is None and settings.form != SET_POINTS:
        for number in zeros:
            yield PROBLEMS.problem("linearity-no-weight-at-zero", job.place("design", "levels", number),
                                   weights=settings.weights, lowest=f"{lowest:g}")  # fmt: skip
    if floor is not None and not relative:
        yield PROBLEMS.problem("linearity-floor-unused", job.place("weight_floor"), weights=settings.weights)
    by_function = settings.weights == BY_FUNCTION
    if by_function and settings.variance_function is None:
        yield PROBLEMS.problem("linearity-function-missing", job.place("weights"))
    if settings.variance_function is not None and not by_function:
        yield PROBLEMS.problem("linearity-function-unused", job.place("variance_function"), weights=settings.weights)


def _form(job: CheckInput, settings: LinearitySettings) -> Iterator[Problem]:
    form = settings.form
    if settings.allowed and form != SET_POINTS:
        yield PROBLEMS.problem("linearity-key-of-other-form", job.place("allowed"), key="allowed", form=form)
    if settings.read_back and form != SIGNAL:
        yield PROBLEMS.problem("linearity-key-of-other-form", job.place("read_back"), key="read_back", form=form)
    for level in settings.allowed:
        if level not in settings.design.levels:
            declared = ", ".join(settings.design.levels)
            yield PROBLEMS.problem("linearity-allowed-level", job.place("allowed", level), level=level,
                                   declared=declared)  # fmt: skip


def _bounds(job: CheckInput, settings: LinearitySettings) -> Iterator[Problem]:
    for name in ("deviation", "set_point_deviation"):
        bound = settings.accept.get(name)
        if bound is not None and bound.bounds and bound.between is None:
            end = bound.at_most if bound.at_most is not None else bound.at_least
            yield PROBLEMS.problem("linearity-one-sided", job.place("accept", name, bound.bounds[0]), finding=name,
                                   size=f"{abs(end):g}")  # fmt: skip


def _table(job: CheckInput, settings: LinearitySettings) -> Iterator[Problem]:
    frame, role = job.table.frame, reading_role(settings)
    declared = ", ".join(settings.design.levels)
    levels = frame["level"]
    for row, level in levels[~levels.isin(settings.design.levels)].head(MOST_CELLS).items():
        cell = job.cell(row, "level")
        yield PROBLEMS.problem("linearity-level-not-declared", cell, level=level, declared=declared)
    yield from _numbers(job, settings, role)
    if settings.form == SIGNAL and not settings.signal.blank_subtracted:
        for row, value in frame.loc[frame[role] < 0, role].head(MOST_CELLS).items():
            yield PROBLEMS.problem("linearity-negative-signal", job.cell(row, role), value=f"{value:g}")
    if settings.form == SET_POINTS:
        return
    numeric = frame[frame[role].notna() & levels.isin(settings.design.levels)]
    found = numeric["level"].nunique()
    if found < min(FEWEST_FOR_A_LINE, len(set(settings.design.levels))):
        only = ", ".join(dict.fromkeys(numeric["level"])) or "none"
        yield PROBLEMS.problem("linearity-equal-x", job.place("data"), found=found, levels=only)
    elif numeric[role].nunique() == 1:
        yield PROBLEMS.problem("linearity-equal-readings", job.place("data"), value=f"{numeric[role].iloc[0]:g}")


def _numbers(job: CheckInput, settings: LinearitySettings, role: str) -> Iterator[Problem]:
    frame, design = job.table.frame, settings.design
    counts = frame[frame[role].notna()].groupby("level").size()
    planned = design.replicates * (design.days or 1)
    for number, level in enumerate(design.levels):
        place, found = job.place("design", "levels", number), int(counts.get(level, 0))
        if not found:
            yield PROBLEMS.problem("linearity-level-without-readings", place, level=level)
        elif found < planned:
            yield PROBLEMS.problem("linearity-fewer-than-planned", place, found=found, level=level, planned=planned)
