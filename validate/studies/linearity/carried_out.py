"""The design as planned and as carried out, what varied, short texts, and limits of use."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from validate.studies.contract import StudyInput
from validate.studies.linearity.calibration import Calibration, LevelPoints, calibration_of, is_recorded
from validate.studies.linearity.line_findings import correlation_words
from validate.studies.linearity.settings import BY_FUNCTION, FACTORS, FOUND, NO_WEIGHTS, SET_POINTS, LinearitySettings
from validate.vocabulary.evaluation import DesignFact, StudyResult, Varied

if TYPE_CHECKING:
    import pandas as pd

MOST_NAMED = 8
NARROW = 3.0
"""A range whose ends differ by less than this factor says little of levels beside it."""


def design_facts(calibration: Calibration) -> tuple[DesignFact, ...]:
    """Levels, replicates and days: planned against carried out."""
    design, measured = calibration.settings.design, calibration.measured
    facts = [
        DesignFact(
            name=f"levels ({calibration.job.method.unit})",
            planned=", ".join(design.levels),
            carried_out=", ".join(level.level for level in measured) or "none",
            short=len(measured) < len(design.levels),
        ),
        _counted("readings per level", design.replicates * (design.days or 1), [level.n for level in measured]),
    ]
    if design.days is not None:
        facts.append(_counted("days at each level", design.days, [_days(calibration, level) for level in measured]))
    facts.append(DesignFact(name="line", planned=_line_words(calibration.settings), carried_out="as planned"))
    return tuple(facts)


def varied_factors(job: StudyInput) -> tuple[Varied, ...]:
    """Days, runs, analysts, instruments, preparations and lots: varied, constant or not recorded."""
    return tuple(_varied(job.table.frame, name, role) for name, role in FACTORS)


def facts_of(calibration: Calibration) -> dict[str, str]:
    """Short texts for the section."""
    settings = calibration.settings
    facts = {"form": _form_words(settings), "line": _line_words(settings), "limits": _limit_words(calibration)}
    if calibration.fit is not None:
        facts["correlation"] = correlation_words(calibration.fit)
    return facts


def limits_of_use(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this study cannot tell."""
    calibration = calibration_of(job)
    if calibration.settings.form == SET_POINTS:
        return (
            "Set points show whether the instrument holds its readings; whether its line is straight is not tested.",
        )
    return (*_on_range(calibration), *_on_conditions(calibration))


def _on_range(calibration: Calibration) -> Iterator[str]:
    levels = [level.x for level in calibration.above_zero]
    unit, method = calibration.job.method.unit, calibration.job.method
    if not levels:
        return
    yield f"The line holds for {levels[0]:g} to {levels[-1]:g} {unit}; nothing was measured outside."
    if method.scope_from is not None and method.scope_from < levels[0]:
        yield f"The scope begins at {method.scope_from:g} {unit}, below the lowest level."
    if method.scope_to is not None and method.scope_to > levels[-1]:
        yield f"The scope ends at {method.scope_to:g} {unit}, above the highest level."
    if levels[-1] < NARROW * levels[0]:
        yield "The levels lie close together: a bend outside them would not be seen."


def _on_conditions(calibration: Calibration) -> Iterator[str]:
    frame = calibration.job.table.frame
    yield "Standards were measured: matrix effects and losses in sample preparation are not tested here."
    if not is_recorded(frame, "day"):
        yield "Days are not recorded: how the line changes from day to day is not known."
    elif frame["day"].nunique() == 1:
        yield "One day only: how the line changes from day to day is not known."
    if not is_recorded(frame, "preparation") or frame["preparation"].nunique() == 1:
        yield "Independent preparations of the standards are not recorded: an error of dilution may look like a bend."


def _form_words(settings: LinearitySettings) -> str:
    if settings.form == FOUND:
        return "the instrument shows a content; it is held against the nominal one"
    if settings.form == SET_POINTS:
        return "a record of set points; no line is fitted"
    return f"{settings.signal.name} against content"


def _line_words(settings: LinearitySettings) -> str:
    origin = "through the origin" if settings.through_origin else "with intercept"
    if settings.weights == NO_WEIGHTS:
        return f"{origin}, all readings of equal weight"
    if settings.weights == BY_FUNCTION and settings.variance_function is not None:
        s = settings.variance_function
        return f"{origin}, weights 1/({s.constant:g}² + ({s.relative_percent:g} % of the level)²)"
    floor = f", that of {settings.weight_floor:g} below it" if settings.weight_floor else ""
    return f"{origin}, weights {settings.weights}{floor}"


def _limit_words(calibration: Calibration) -> str:
    if calibration.by_day:
        return "Limits of a level rest on its day means (t with days − 1 degrees of freedom)."
    if len(calibration.x) > len(calibration.measured):
        return "Limits of a level rest on the scatter within levels, pooled by the weights."
    return "Limits of a level rest on the scatter about the line: no level was measured twice."


def _days(calibration: Calibration, level: LevelPoints) -> int:
    part = calibration.job.table.frame.loc[level.index]
    return int(part["day"].nunique()) if is_recorded(part, "day") else 0


def _counted(name: str, planned: int, counts: list[int]) -> DesignFact:
    least, most = (min(counts), max(counts)) if counts else (0, 0)
    carried_out = "not recorded" if most == 0 and counts else str(least) if least == most else f"{least} to {most}"
    return DesignFact(name=name, planned=str(planned), carried_out=carried_out, short=least < planned)


def _varied(frame: pd.DataFrame, name: str, role: str) -> Varied:
    if not is_recorded(frame, role):
        return Varied(factor=name, state="not recorded")
    labels = np.asarray(frame[role].unique(), dtype=object).tolist()
    named = ", ".join(map(str, labels[:MOST_NAMED])) + (" …" if len(labels) > MOST_NAMED else "")
    return Varied(factor=name, state="varied" if len(labels) > 1 else "constant", count=len(labels), detail=named)
