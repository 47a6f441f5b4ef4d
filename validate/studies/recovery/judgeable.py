"""What every figure carries for the judge: its three intervals, and reasons that forbid a verdict."""

from __future__ import annotations

from collections.abc import Callable

from validate.stats.intervals import Limits
from validate.studies.contract import ALPHA, StudyInput
from validate.studies.recovery.samples import Level
from validate.studies.recovery.settings import RESOLUTION_SHARE
from validate.vocabulary.finding import Interval
from validate.vocabulary.limits import limits_working

LimitsAt = Callable[[str, float], Limits]
"""(use, confidence level) → limits in the unit of the estimate."""


def intervals_of(
    job: StudyInput, limits: LimitsAt, unit: str, factor: float = 1.0, parts: tuple[str, ...] = ()
) -> tuple[Interval, ...]:
    """95 % to be shown, 1 − 2α for `met` and 1 − 2α/K for `not met`, each times `factor`, in `unit`.

    `parts` say what the parts of a variance are on which limits of a sum rest.
    """
    made = []
    for use, confidence in (("shown", 0.95), ("met", 1 - 2 * ALPHA), ("not_met", job.not_met_level)):
        found = limits(use, confidence)
        made.append(
            Interval(
                use=use,  # type: ignore[arg-type]
                level=confidence,
                low=factor * found.low,
                high=factor * found.high,
                method=found.method,
                working=limits_working(found.rests_on, unit, parts=parts) if use == "shown" and factor == 1 else None,
            )
        )
    return tuple(made)


def is_below_resolution(s: float, resolution: float | None) -> bool:
    """Whether the spread is lost in the steps of the reading."""
    return s == 0 or (resolution is not None and s < RESOLUTION_SHARE * resolution)


def results_at_floor(job: StudyInput, level: Level) -> int:
    """Number of results at or below the floor of the reading: they may have been clipped there."""
    return 0 if job.method.floor is None else int((level.found <= job.method.floor).sum())


def blocks_of(job: StudyInput, level: Level, s: float | None) -> tuple[str, ...]:
    """Reasons that forbid a verdict on a statistic of `level` whose results scatter with `s`."""
    method, reasons = job.method, []
    if level.censored:
        censored, total = len(level.censored), level.n + len(level.censored)
        reasons.append(
            f"{censored} of {total} results {'is' if censored == 1 else 'are'} censored and not in the figure"
        )
    if s == 0:
        reasons.append("all results are identical (s = 0)")
    elif s is not None and is_below_resolution(s, method.resolution):
        reasons.append(f"s is below half the resolution of the reading ({method.resolution:g} {method.unit})")
    if results_at_floor(job, level):
        reasons.append("results stand at the floor of the reading and may have been clipped there")
    return tuple(reasons)
