"""Whether a material has changed: two occasions, or a line over several; see `homogeneity`."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._input import number, vector
from validate.stats.calibration_line import line
from validate.stats.intervals import t_probability, t_quantile

STABILITY_SHARE = 0.3
"""Largest change as a share of σ_pt."""


@dataclass(frozen=True)
class Stability:
    """The change between two occasions and its interval.

    `point_met` is the rule on the estimate, |difference| ≤ limit. `widened_limit` adds twice
    the standard error of the difference: it grows with the scatter of the measurements, so that
    a worse method passes more easily; it is for the reader. `low`, `high` and `df` are None
    with a `reason` where the scatter is 0.
    """

    difference: float
    low: float | None
    high: float | None
    level: float
    limit: float
    point_met: bool
    u: float
    df: float | None
    widened_limit: float
    widened_met: bool
    n_before: int
    n_after: int
    reason: str = ""


def stability(before: ArrayLike, after: ArrayLike, sigma_pt: float, *, level: float = 0.90) -> Stability:
    """Difference of the means of two occasions, ȳ₁ − ȳ₂, against 0.3·σ_pt.

    u² = s₁²/n₁ + s₂²/n₂ on Welch's degrees of freedom; the interval at `level` 0.90 within ±limit
    shows stability (two one-sided 5 % tests). widened_limit = 0.3·σ_pt + 2·u.

    `before`, `after`: one value for each unit (the mean of its replicates), σ_pt in the same
    unit. Assumes that both occasions were measured alike: a drift of the method looks the same.

    Raises ValueError for fewer than 2 values on an occasion, a missing value, σ_pt ≤ 0.

    Source: ISO 13528 Annex B (from memory).

    >>> found = stability([10.0, 10.2, 10.1], [10.1, 10.0, 9.9], 1.0)
    >>> round(found.difference, 3), found.limit, found.point_met, round(found.low, 3), round(found.high, 3)
    (0.1, 0.3, True, -0.074, 0.274)
    """
    one, two = vector(before, "result before", at_least=2), vector(after, "result after", at_least=2)
    limit = STABILITY_SHARE * number(sigma_pt, "σ_pt", above=0)
    difference = float(one.mean() - two.mean())
    shares = [x.var(ddof=1) / x.size for x in (one, two)]
    u = math.sqrt(sum(shares))
    low = high = df = None
    if u > 0:
        df = sum(shares) ** 2 / sum(s**2 / (x.size - 1) for s, x in zip(shares, (one, two), strict=True))
        half = t_quantile((1 + level) / 2, df) * u
        low, high = difference - half, difference + half
    return Stability(
        difference=difference,
        low=low,
        high=high,
        level=level,
        limit=limit,
        point_met=abs(difference) <= limit * (1 + 1e-9),
        u=u,
        df=df,
        widened_limit=limit + 2 * u,
        widened_met=abs(difference) <= (limit + 2 * u) * (1 + 1e-9),
        n_before=one.size,
        n_after=two.size,
        reason="" if u > 0 else "all results of each occasion are equal: their scatter is unknown",
    )


@dataclass(frozen=True)
class StabilityTrend:
    """The line over the occasions and the change that it gives for the `period`.

    `u_stability` = se_slope·period is what remains uncertain even where no slope is found.
    """

    slope: float
    se_slope: float
    intercept: float
    change: float
    low: float
    high: float
    level: float
    limit: float
    point_met: bool
    period: float
    u_stability: float
    df: int
    p_value: float
    n_occasions: int


def stability_trend(
    time: ArrayLike, occasion_means: ArrayLike, sigma_pt: float, *, period: float, level: float = 0.90
) -> StabilityTrend:
    """Change over `period` from an ordinary line through the means of three or more occasions.

    change = b·period, interval b·period ± t(p − 2)·s_b·period. One mean for each occasion: results
    of one day share what that day adds, and single results would make the slope look better
    known than it is.

    `time` and `period` in one unit (days); `occasion_means` in the unit of σ_pt.

    Raises ValueError for fewer than 3 occasions, all at one time, all means on the line, period
    ≤ 0, σ_pt ≤ 0.

    Source: ISO Guide 35 (slope, u_stability = s_b·t; from memory), limit as for two occasions.

    >>> found = stability_trend([0, 30, 60, 90], [10.0, 10.1, 9.9, 10.0], 1.0, period=90)
    >>> round(found.change, 3), round(found.low, 3), round(found.high, 3)
    (-0.06, -0.432, 0.312)
    """
    t, y = vector(time, "time", at_least=3), vector(occasion_means, "occasion mean", at_least=3)
    limit = STABILITY_SHARE * number(sigma_pt, "σ_pt", above=0)
    span = number(period, "the period", above=0)
    if np.ptp(t) == 0:
        raise ValueError("all occasions are at one time: no change can be seen")
    fit = line(t, y)
    if not fit.se_slope > 0:
        raise ValueError("all means lie on one line: their scatter is unknown")
    half = t_quantile((1 + level) / 2, fit.df) * fit.se_slope * span
    change = fit.slope * span
    return StabilityTrend(
        slope=fit.slope,
        se_slope=fit.se_slope,
        intercept=fit.intercept,
        change=change,
        low=change - half,
        high=change + half,
        level=level,
        limit=limit,
        point_met=abs(change) <= limit * (1 + 1e-9),
        period=span,
        u_stability=fit.se_slope * span,
        df=int(fit.df),
        p_value=2 * t_probability(-abs(fit.slope) / fit.se_slope, fit.df),
        n_occasions=t.size,
    )
