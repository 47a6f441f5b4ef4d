"""What a comparison says at one level: the bias that a line gives there, and how the methods classify."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._input import confidence, number
from validate.stats.comparison_deming import Deming, pairs
from validate.stats.comparison_ranks import BY_BOOTSTRAP, PassingBablok
from validate.stats.comparison_resampling import MOST_BY_WEIGHTS, percentiles
from validate.stats.detection_trials import Proportion, proportion
from validate.stats.intervals import Limits, t_limits


@dataclass(frozen=True)
class BiasAt:
    """`bias` = intercept + (slope − 1)·level, in the unit of the line; `se` and `df` None for percentiles."""

    at: float
    bias: float
    limits: Limits
    se: float | None
    df: int | None
    extrapolated: bool


def bias_at(fit: Deming | PassingBablok, at: float, *, x: ArrayLike, level: float = 0.95) -> BiasAt:
    """Bias of y at the content `at` of x: intercept + (slope − 1)·at, with limits.

    Deming: SE by the jackknife, √(s_a² + 2·at·cov(a, b) + at²·s_b²), limits by t on n − 2 df.
    Passing and Bablok: percentiles of the bias over bootstrap samples (2000, seed 20310303; beyond 120
    points 200 samples, whose SE and the normal quantile give the limits).

    `x` are the contents that the line was drawn through: `extrapolated` where `at` lies outside.
    A line through logarithms takes `at` and gives the bias as logarithms.

    Raises ValueError for a level that is no number.
    """
    place = number(at, "the level")
    contents = np.asarray(x, dtype=float)
    bias = fit.intercept + (fit.slope - 1) * place
    outside = not float(contents.min()) <= place <= float(contents.max())
    if isinstance(fit, Deming):
        variance = fit.se_intercept**2 + 2 * place * fit.covariance + (place * fit.se_slope) ** 2
        se = math.sqrt(max(0.0, variance))
        return BiasAt(place, bias, t_limits(bias, se, fit.df, level), se, fit.df, outside)
    biases = fit.resampled.biases(place)
    if fit.n <= MOST_BY_WEIGHTS:
        return BiasAt(
            place, bias, Limits(*percentiles(biases, confidence(level)), level, BY_BOOTSTRAP), None, None, outside
        )
    se = float(np.std(biases, ddof=1))
    limits = (
        t_limits(bias, se, math.inf, level) if math.isfinite(se) else Limits(-math.inf, math.inf, level, BY_BOOTSTRAP)
    )
    return BiasAt(place, bias, limits, se if math.isfinite(se) else None, None, outside)


@dataclass(frozen=True)
class Classification:
    """Samples above (or at or below) a limit by reference and by test; the shares as proportions.

    `of_above` is the share of the samples above the limit by the reference that the test puts
    above too; `of_not_above` likewise for the others; None where there are none.
    """

    both_above: int
    only_test: int
    only_reference: int
    neither: int
    overall: Proportion
    of_above: Proportion | None
    of_not_above: Proportion | None


def classification(reference: ArrayLike, test: ArrayLike, limit: float, *, level: float = 0.95) -> Classification:
    """How often two methods put a sample on the same side of a limit: above means result > limit.

    Shares with exact (Clopper-Pearson) limits at `level`.

    Raises ValueError for unequal numbers, a missing value, or no samples.

    >>> found = classification([3, 4, 6, 7], [3, 6, 6, 7], 5)
    >>> found.overall.estimate, found.only_test, found.of_above.estimate
    (0.75, 1, 1.0)
    """
    first, second = pairs(reference, test, at_least=1)
    bound = number(limit, "the limit")
    by_reference, by_test = first > bound, second > bound
    both, neither = int(np.sum(by_reference & by_test)), int(np.sum(~by_reference & ~by_test))
    only_test, only_reference = int(np.sum(~by_reference & by_test)), int(np.sum(by_reference & ~by_test))
    above, not_above = both + only_reference, neither + only_test
    return Classification(
        both,
        only_test,
        only_reference,
        neither,
        proportion(both + neither, len(first), level=level),
        proportion(both, above, level=level) if above else None,
        proportion(neither, not_above, level=level) if not_above else None,
    )
