"""What the findings of a comparison share: their frame, the three intervals, what forbids a verdict."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from validate.stats.intervals import Limits, t_limits
from validate.studies.contract import StudyInput
from validate.studies.lot_comparison.kinds import BY_NAME, prefix_of
from validate.studies.lot_comparison.pairing import Compared, compared, together
from validate.studies.lot_comparison.settings import LotComparisonSettings
from validate.vocabulary.finding import Finding, Interval, LimitsWorking, Rows, Symbol
from validate.vocabulary.limits import RestsOn, limits_working, ratio_limits

TOST = "Schuirmann (1987), two one-sided tests (from memory)"
RESOLUTION_SHARE = 0.5
"""A standard deviation below this share of the reading's resolution gets no verdict."""
E = Symbol(name="e", printed="e", meaning="base of natural logarithms", value=math.e, unit="")


@dataclass(frozen=True)
class Context:
    """One study's input with its results sorted into what is compared."""

    job: StudyInput

    @property
    def settings(self) -> LotComparisonSettings:
        return self.job.settings  # type: ignore[return-value]

    @cached_property
    def levels(self) -> tuple[Compared, ...]:
        return compared(self.job.table, self.settings)

    @cached_property
    def all(self) -> Compared:
        return together(self.levels)

    @property
    def prefix(self) -> str:
        return prefix_of(self.settings.factor)

    @property
    def unit(self) -> str:
        return self.job.method.unit

    @property
    def in_units(self) -> str:
        """What follows a number in a sentence: the unit after a space, nothing for a plain number."""
        return in_units(self.unit)

    def rows(self, rows: tuple[int, ...]) -> tuple[Rows, ...]:
        import pandas as pd

        return (self.job.table.rows(pd.Index(rows, dtype="int64")),)

    def finding(self, name: str, value: float | None, **parts: object) -> Finding:
        unit = BY_NAME[name].unit
        parts.setdefault("level", None)
        return Finding(name=name, value=value, unit=self.unit if unit == "method" else unit, **parts)  # type: ignore[arg-type]

    def missing(
        self, name: str, reason: str, *, formula: str, level: str | None = None, n: int | None = None
    ) -> Finding:
        return self.finding(name, None, level=level, reason=reason, n=n, formula=formula, source=TOST)

    def three(
        self,
        estimate: float,
        se: float,
        df: float,
        *,
        shown: Callable[[float], float] = float,
        unit: str = "",
        working: Callable[[RestsOn], LimitsWorking | None] | None = None,
    ) -> tuple[Interval, ...]:
        """t limits for the reader, for `met` and for `not met`, brought to the scale of the finding by `shown`.

        `working` redoes those for the reader from what t limits rest on; without it a finding with a scale of its
        own is taken for a ratio.
        """
        if working is None:
            working = ratio_limits if shown is not float else partial(limits_working, unit=unit or self.unit)
        made = []
        for use, level in (("shown", 0.95), ("met", 0.90), ("not_met", self.job.not_met_level)):
            limits: Limits = t_limits(estimate, se, df, level)
            words = "t" if shown is float else "t, on logarithms"
            made.append(
                Interval(
                    use=use,  # type: ignore[arg-type]
                    level=level,
                    low=shown(limits.low),
                    high=shown(limits.high),
                    method=words,
                    working=working(limits.rests_on) if use == "shown" else None,
                )
            )
        return tuple(made)

    def blocked(self, part: Compared) -> tuple[str, ...]:
        """Why figures of these results can carry no verdict."""
        reasons, resolution = [], self.job.method.resolution
        if part.censored:
            reasons.append(f"{len(part.censored)} results are no numbers that can be compared")
        floor = self.job.method.floor
        clipped = 0 if floor is None else sum(int(np.count_nonzero(x <= floor)) for x in (part.new, part.current))
        if clipped:
            reasons.append(f"{clipped} results stand at the floor of the reading ({floor:g}{self.in_units})")
        if part.paired and part.n >= 2:
            sd = float(np.std(part.new - part.current, ddof=1))
            if resolution and sd < RESOLUTION_SHARE * resolution:
                reasons.append(f"the differences scatter by less than half a step of the reading ({resolution:g})")
        return tuple(reasons)


def in_units(unit: str) -> str:
    return "" if unit in ("", "1") else f" {unit}"


def symbol(name: str, printed: str, meaning: str, value: float, unit: str = "") -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=float(value), unit=unit)
