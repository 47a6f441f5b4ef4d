"""What every finding of a level shares: its frame, its three intervals, what forbids a verdict."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from validate.stats.intervals import Limits, mls_limits, satterthwaite_limits, sd_limits
from validate.studies.contract import StudyInput
from validate.studies.precision.groups import LevelData
from validate.studies.precision.kinds import BY_NAME
from validate.studies.precision.model import Estimate
from validate.studies.precision.settings import PrecisionSettings
from validate.vocabulary.finding import Finding, Interval, Rows, Sampling, Symbol
from validate.vocabulary.limits import limits_working

ISO_5725_2 = "ISO 5725-2:1994, 7.4 (clause from memory)"
ISO_5725_3 = "ISO 5725-3:1994, 8 (clause from memory)"
ISO_5725_6 = "ISO 5725-6:1994, 4.1 (clause from memory)"
LONGEST_RANGES = 2000
"""Characters of row ranges beyond which the level is named instead."""
RESOLUTION_SHARE = 0.5
"""A standard deviation below this share of the reading's resolution gets no verdict."""


@dataclass(frozen=True)
class LevelContext:
    """What every finding of a level shares."""

    job: StudyInput
    data: LevelData

    @property
    def settings(self) -> PrecisionSettings:
        return self.job.settings  # type: ignore[return-value]

    def finding(self, name: str, value: float | None, **parts: object) -> Finding:
        unit = BY_NAME[name].unit
        return Finding(
            name=name,
            level=self.data.level,
            value=value,
            unit=self.job.method.unit if unit == "method" else unit,
            rows=(self.rows,),
            **parts,  # type: ignore[arg-type]
        )

    @cached_property
    def rows(self) -> Rows:
        """The rows of this level; interleaved ones in words, where ranges would fill pages."""
        exact = self.job.table.rows(self.data.rows)
        if len(exact.ranges) <= LONGEST_RANGES:
            return exact
        first, last = self.data.rows.min(), self.data.rows.max()
        return Rows(file=exact.file, ranges=f"{first}-{last}, the {self.data.n} of them at level {self.data.level}")

    @property
    def blocked_readings(self) -> tuple[str, ...]:
        """Why no figure of this level can carry a verdict: results that are no numbers, or clipped ones."""
        data, reasons = self.data, []
        if len(data.censored):
            reasons.append(
                f"{len(data.censored)} of {data.n + len(data.censored)} results are below a limit or not detected"
            )
        if data.at_floor:
            reasons.append(
                f"{data.at_floor} of {data.n} results stand at the floor of the reading ({self.job.method.floor:g})"
            )
        return tuple(reasons)

    def blocked_spread(self, sd: float) -> tuple[str, ...]:
        """Why a standard deviation cannot carry a verdict: zero, or finer than the reading."""
        resolution = self.job.method.resolution
        if sd == 0:
            return ("the standard deviation is 0: all compared results are equal",)
        if resolution and sd < RESOLUTION_SHARE * resolution:
            step = f"{resolution:g} {self.job.method.unit}"
            return (f"the standard deviation is below half the resolution of the reading ({step})",)
        return ()

    def three(self, limits: Callable[[str, float], Interval]) -> tuple[Interval, ...]:
        """The intervals for the reader, for `met` and for `not met`."""
        return (limits("shown", 0.95), limits("met", 0.90), limits("not_met", self.job.not_met_level))


def interval(use: str, limits: Limits, unit: str, method: str | None = None, parts: tuple[str, ...] = ()) -> Interval:
    """The limits of a formula, in `unit`, as an interval for `use`; `parts` say what the terms of a sum are."""
    return Interval(
        use=use,  # type: ignore[arg-type]
        level=limits.level,
        low=limits.low,
        high=limits.high,
        method=method or limits.method,
        working=limits_working(limits.rests_on, unit, parts=parts) if use == "shown" else None,
    )


def spread_limits(estimate: Estimate, level: float, *, guarded: bool) -> Limits:
    """Chi-square for one mean square, MLS for a sum; guarded: lower limit not above Satterthwaite's."""
    if len(estimate.terms) == 1:
        return sd_limits(estimate.value, estimate.df, level)
    found = mls_limits(estimate.terms, level)
    if not guarded:
        return found
    low = min(found.low, satterthwaite_limits(estimate.terms, level).low)
    return Limits(low, found.high, level, f"{found.method}, lower limit not above Satterthwaite's")


def sampling(estimate: Estimate) -> Sampling:
    """How the standard deviation would scatter if the study were repeated."""
    if len(estimate.terms) == 1:
        return Sampling(kind="scaled_chi", df=estimate.df)
    total = sum(term.value for term in estimate.terms)
    shares = tuple(t.value / total if total else 1 / len(estimate.terms) for t in estimate.terms)
    return Sampling(
        kind="scaled_chi_sum",
        df=estimate.df,
        shares=shares,
        dfs=tuple(float(term.df) for term in estimate.terms),
        floors=estimate.floors,
    )


def symbol_of(finding: Finding) -> Symbol:
    """A finding as a symbol in the working of another one."""
    kind = BY_NAME[finding.name]
    return Symbol(name=finding.name, printed=kind.symbol, meaning=kind.title, value=finding.value, unit=finding.unit)
