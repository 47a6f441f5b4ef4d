"""Lots over time: each against the validation lot, the spread between lots, a drift from lot to lot."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from validate.stats.intervals import Term, component_limits, satterthwaite_df
from validate.stats.regression import line
from validate.studies.lot_comparison.context import Context, E, symbol
from validate.studies.lot_comparison.history import Step
from validate.vocabulary.finding import Finding, Interval, Sampling, Working
from validate.vocabulary.limits import limits_working, ratio_limits, scaled_limits

FEWEST_LOTS = 3
"""Lots, the validation lot included, for a spread between them."""
FEWEST_FOR_DRIFT = 5
"""Lots for a drift: a line through four points has 2 degrees of freedom (an own choice)."""
SOURCE = "comparisons of earlier lots, cumulated; own formula"


@dataclass(frozen=True)
class Lots:
    """Every lot's logarithm of the ratio to the validation lot, from the steps that lead to it."""

    steps: tuple[Step, ...]

    @property
    def labels(self) -> tuple[str, ...]:
        return (self.steps[0].current, *(step.new for step in self.steps))

    @cached_property
    def paths(self) -> NDArray[np.float64]:
        """Row per lot, column per step: 1 where the step leads to the lot."""
        paths = np.zeros((len(self.steps) + 1, len(self.steps)))
        place = {self.labels[0]: 0}
        for i, step in enumerate(self.steps):
            paths[i + 1] = paths[place[step.current]]
            paths[i + 1, i] = 1
            place[step.new] = i + 1
        return paths

    @property
    def positions(self) -> NDArray[np.float64]:
        """ln of the ratio to the validation lot; 0 for itself."""
        return self.paths @ np.array([step.log_ratio for step in self.steps])

    @property
    def covariance(self) -> NDArray[np.float64]:
        """Of the positions: lots share the errors of the steps they share."""
        return (self.paths * np.array([step.se**2 for step in self.steps])) @ self.paths.T

    @property
    def error_variance(self) -> float:
        """What the errors of the comparisons add to the variance between the positions."""
        c, m = self.covariance, len(self.labels)
        return float((np.trace(c) - c.sum() / m) / (m - 1))

    def df_of(self, lot: int) -> float:
        terms = [Term(step.se**2, step.df) for step, on in zip(self.steps, self.paths[lot], strict=True) if on]
        return satterthwaite_df(terms)


def drift(context: Context, lots: Lots) -> list[Finding]:
    """Findings on the new lot in the row of its predecessors."""
    return [_to_validation(context, lots), _between(context, lots), _drift(context, lots)]


def _percent(log_ratio: float) -> float:
    return 100 * math.exp(log_ratio)


def _to_validation(context: Context, lots: Lots) -> Finding:
    position, se, df = float(lots.positions[-1]), math.sqrt(lots.covariance[-1, -1]), lots.df_of(-1)
    on_path = [step for step, on in zip(lots.steps, lots.paths[-1], strict=True) if on]
    value = _percent(position)
    return context.finding(
        "to_validation",
        value,
        intervals=context.three(position, se, df, shown=_percent),
        n=sum(step.n for step in on_path),
        df=df,
        groups=len(on_path),
        formula="100 · exp(sum of the logarithms of the ratios from the validation lot on)",
        source=SOURCE,
        working=Working(
            expression="100 · {e}^{sum}",
            symbols=(E, symbol("sum", "Σ ln Q", f"sum over {' → '.join(_names(on_path))}", position)),
        ),
        sampling=Sampling(kind="mean", se=value * se, df=df),
        notes=(f"{len(on_path)} comparisons, {lots.labels[0]} is the validation lot",),
    )


def _names(steps: list[Step]) -> list[str]:
    return [steps[0].current, *(step.new for step in steps)]


PARTS_OF_BETWEEN = ("variance between lots, logarithms", "what the errors of the comparisons add to it")


def _between(context: Context, lots: Lots) -> Finding:
    m, name = len(lots.labels), "s_between_lots"
    formula = "100 · √max(0, variance of ln(ratio to the validation lot) between lots − what the comparisons add)"
    if m < FEWEST_LOTS:
        return context.missing(name, f"{m} lots, at least {FEWEST_LOTS} are needed", formula=formula, n=m)
    raw, error = float(np.var(lots.positions, ddof=1)), lots.error_variance
    limits = component_limits(raw, m - 1, error, satterthwaite_df([Term(s.se**2, s.df) for s in lots.steps]), 0.95)
    working = scaled_limits(limits_working(limits.rests_on, "1", parts=PARTS_OF_BETWEEN), "100")
    shown = Interval(
        use="shown", level=0.95, low=100 * limits.low, high=100 * limits.high, method=limits.method, working=working
    )
    return context.finding(
        name,
        100 * math.sqrt(max(0.0, raw - error)),
        intervals=(shown,),
        n=m,
        df=m - 1,
        groups=m,
        formula=formula,
        source=SOURCE,
        working=Working(
            expression="100 · √(max(0, {raw} − {error}))",
            symbols=(
                symbol("raw", "s²", f"variance between {m} lots, logarithms", raw),
                symbol("error", "ū²", "what the errors of the comparisons add to it", error),
            ),
        ),
        notes=(
            "relative, in % of the result; belongs into within-laboratory reproducibility where one lot alone was "
            "used to find it",
        ),
    )


_limits_of_drift = partial(
    ratio_limits,
    low="100 · ((1 + {value} / 100) / {f} − 1)",
    high="100 · ((1 + {value} / 100) · {f} − 1)",
)


def _drift(context: Context, lots: Lots) -> Finding:
    m, name = len(lots.labels), "drift_per_lot"
    formula = "slope of ln(ratio to the validation lot) against the number of the lot, as 100 · (exp(slope) − 1)"
    if m < FEWEST_FOR_DRIFT:
        return context.missing(name, f"{m} lots, at least {FEWEST_FOR_DRIFT} are needed", formula=formula, n=m)
    fit = line(np.arange(m, dtype=float), lots.positions)

    def shown(slope: float) -> float:
        return 100 * math.expm1(slope)

    return context.finding(
        name,
        shown(fit.slope),
        intervals=context.three(fit.slope, fit.se_slope, fit.df, shown=shown, working=_limits_of_drift),
        n=m,
        df=fit.df,
        groups=m,
        formula=formula,
        source="least squares; the errors of cumulated comparisons hang together, so its limits are a guide",
        working=Working(
            expression="100 · ({e}^{slope} − 1)",
            symbols=(E, symbol("slope", "b", "slope per lot, logarithms", fit.slope)),
        ),
    )
