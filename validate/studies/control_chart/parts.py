"""What every finding of a control chart shares: its frame, its intervals, what forbids a verdict."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from validate.stats.intervals import Limits
from validate.studies.contract import ALPHA
from validate.studies.control_chart.kinds import FINDINGS
from validate.studies.control_chart.runs import Record
from validate.vocabulary.finding import Finding, Interval, Symbol
from validate.vocabulary.limits import limits_working

BY_NAME = {kind.name: kind for kind in FINDINGS}
RESOLUTION_SHARE = 0.5
"""A standard deviation below this share of the reading's resolution gets no verdict."""


def finding(record: Record, name: str, value: float | None, **parts: object) -> Finding:
    """A finding of the record in its declared unit; at the level of the control material where there is one."""
    kind = BY_NAME[name]
    return Finding(
        name=name,
        level=record.settings.level if kind.per_level else None,
        value=value,
        unit=record.unit if kind.unit == "method" else kind.unit,
        rows=record.rows,
        **parts,  # type: ignore[arg-type]
    )


def intervals_of(
    record: Record, limits: Callable[[str, float], Limits], unit: str, factor: float = 1.0
) -> tuple[Interval, ...]:
    """95 % to be shown, 90 % for `met`, and that for `not met` after Bonferroni; times `factor`."""
    made = []
    for use, level in (("shown", 0.95), ("met", 1 - 2 * ALPHA), ("not_met", record.job.not_met_level)):
        found = limits(use, level)
        working = limits_working(_scaled(found.rests_on, factor), unit) if use == "shown" else None
        made.append(
            Interval(use=use, level=level, low=factor * found.low, high=factor * found.high, method=found.method,
                     working=working)  # type: ignore[arg-type]
        )  # fmt: skip
    return tuple(made)


def _scaled(rests_on: Iterable[tuple[str, float]], factor: float) -> list[tuple[str, float]]:
    """Standard uncertainties times `factor`, parts of a variance times its square; degrees of freedom as they are."""
    powers = {"u": 1, "part": 2}
    return [(name, value * factor ** powers.get(name.split("_")[0], 0)) for name, value in rests_on]


def blocked_readings(record: Record) -> tuple[str, ...]:
    """Why no figure of the record can carry a verdict: results that are no numbers, or clipped ones."""
    reasons = []
    if record.censored:
        reasons.append(f"{len(record.censored)} results are below a limit or not detected")
    floor = record.job.method.floor
    if floor is not None and (at_floor := int((record.values <= floor).sum())):
        reasons.append(f"{at_floor} of {len(record.values)} results stand at the floor of the reading ({floor:g})")
    return tuple(reasons)


def blocked_spread(record: Record, sd: float) -> tuple[str, ...]:
    """Why a standard deviation cannot carry a verdict: zero, or finer than the reading."""
    step = record.job.method.resolution
    if sd == 0:
        return ("the standard deviation is 0: all compared results are equal",)
    if step and sd < RESOLUTION_SHARE * step:
        return (f"the standard deviation is below half the resolution of the reading ({step:g} {record.unit})",)
    return ()


def symbol(name: str, printed: str, meaning: str, value: float, unit: str = "") -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=float(value), unit=unit)
