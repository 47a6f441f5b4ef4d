"""From a signal back to an amount: inverse prediction, and back-calculated levels."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from validate.stats._input import confidence, number, whole_number
from validate.stats._sums import total
from validate.stats.calibration_line import Line
from validate.stats.intervals import t_quantile

NOT_DISTINGUISHABLE = "slope not distinguishable from zero"
APPROXIMATE_FROM = 0.1
"""From this g on the standard error s_x describes the interval badly."""
ROUNDING = 1e-9
"""A signal of the outermost level is not extrapolated for its last digits."""

Scatter = Literal["pooled", "level"]


@dataclass(frozen=True)
class InversePrediction:
    """The amount `x` that belongs to a signal, its standard error and Fieller limits.

    `bounded` is False, and `low`, `high` None with the `reason`, when no finite interval
    exists. `approximate`: g = (t·s_b/b)² is at least 0.1, so `s_x` is a rough value (the
    limits are not). `extrapolated`: x lies outside the calibrated levels.
    """

    x: float | None
    s_x: float | None
    low: float | None
    high: float | None
    bounded: bool
    reason: str | None
    approximate: bool
    extrapolated: bool
    g: float | None
    m: int
    df: int
    level: float


def inverse_predict(
    fit: Line, y0: float, *, m: int = 1, weight_at_y0: float | None = None, level: float = 0.95
) -> InversePrediction:
    """Amount of a sample with the mean signal `y0` of `m` replicates: x̂ = (y0 − a)/b.

    With w0 the weight of one such signal, on the scale where weights average 1:

        s_x = (s/|b|)·√(1/(m·w0) + 1/Σw + (x̂ − x̄_w)²/S_xx)

    Limits are Fieller's: all x with (y0 − a − b·x)² ≤ t²·s²·(1/(m·w0) + 1/Σw + (x − x̄_w)²/S_xx).
    With g = t²·s_b²/b² ≥ 1 they are not finite (`bounded` False). Through the origin the
    last two terms become x̂²/Σwx².

    `weight_at_y0`: required when the fit is weighted, in the units of the weights that were
    passed to it; without a weight a low result looks as uncertain as a high one (coverage
    56 % instead of 95 % with 1/x²). Raises ValueError when it is missing, not above 0, or
    given for a fit without weights, and for m < 1.

    Source: E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175-185; J. N. Miller,
    J. C. Miller, Statistics and Chemometrics for Analytical Chemistry, chapter 5 (both from memory).

    >>> from validate.stats.calibration_line import line
    >>> fit = line([0, 2, 4, 6, 8, 10, 12], [2.1, 5.0, 9.0, 12.6, 17.3, 21.0, 24.7])
    >>> found = inverse_predict(fit, 13.5)
    >>> round(found.x, 2), round(found.s_x, 2), round(found.low, 2), round(found.high, 2)
    (6.21, 0.24, 5.59, 6.83)
    """
    signal, confidence_level = number(y0, "the signal y0"), confidence(level)
    replicates = whole_number(m, "m", at_least=1)
    own = 1 / (replicates * _weight(fit, weight_at_y0))
    b, s = fit.slope, fit.residual_sd
    t = t_quantile((1 + confidence_level) / 2, fit.df)
    if b == 0:
        reason = f"{NOT_DISTINGUISHABLE}: it is 0"
        return InversePrediction(None, None, None, None, False, reason, True, False, None, replicates, fit.df, level)
    x = (signal - fit.intercept) / b
    s_x = s / abs(b) * math.sqrt(own + fit.leverage(x))
    g = (t * fit.se_slope / b) ** 2
    bounded = g < 1
    low = high = None
    if bounded:
        mean_term = 0.0 if fit.through_origin else 1 / fit.n
        distance = x - fit.x_mean
        half = t * s / abs(b) * math.sqrt((own + mean_term) * (1 - g) + distance**2 / fit.s_xx)
        low = x + (distance * g - half) / (1 - g)
        high = x + (distance * g + half) / (1 - g)
    return InversePrediction(
        x=x,
        s_x=s_x,
        low=low,
        high=high,
        bounded=bounded,
        reason=None if bounded else NOT_DISTINGUISHABLE,
        approximate=g >= APPROXIMATE_FROM,
        extrapolated=max(fit.lowest - x, x - fit.highest) > ROUNDING * (fit.highest - fit.lowest),
        g=g,
        m=replicates,
        df=fit.df,
        level=level,
    )


@dataclass(frozen=True)
class BackCalculated:
    """One level as its own mean signal and the line give it back.

    `found` = (mean signal − a)/b; `deviation` = found − level, in the unit of x;
    `deviation_percent` of the level, with limits. `reason` says why the percentage or its
    limits are None. `u_percent` is the standard uncertainty behind the limits, on `df`.
    """

    at: float
    n: int
    found: float
    deviation: float
    deviation_percent: float | None
    u_percent: float | None
    df: int
    low: float | None
    high: float | None
    level: float
    reason: str | None = None


def back_calculated(fit: Line, *, scatter: Scatter = "pooled", level: float = 0.90) -> tuple[BackCalculated, ...]:
    """Deviation of each level from the line in per cent of the level, levels ascending.

        d_j = 100·((ȳ_j − a)/b − x_j)/x_j,   u_j = 100·s/(|b|·x_j·√(w_j·n_j)),   limits d_j ± t·u_j

    ȳ_j: (weighted) mean of the n_j signals at x_j. s is by `scatter`: `"pooled"`: the
    weighted scatter about the level means on n − levels df (the residual SD on n − 2 df
    when no level was measured twice); `"level"`: the standard deviation at the level itself
    on n_j − 1 df. The limits are those of the deviation from the line *as fitted*, the one
    that will be used. At 0.90 they are the two one-sided 5 % limits.

    Level 0 and below have no percentage. Raises ValueError for a slope of 0.

    >>> from validate.stats.calibration_line import line
    >>> fit = line([1, 1, 2, 2, 4, 4], [1.0, 1.1, 2.1, 1.9, 4.1, 4.0])
    >>> first = back_calculated(fit)[0]
    >>> round(first.deviation_percent, 2), round(first.low, 2), round(first.high, 2), first.df
    (2.14, -14.45, 18.72, 3)
    """
    confidence(level)
    if fit.slope == 0:
        raise ValueError(f"{NOT_DISTINGUISHABLE}: it is 0, no level can be back-calculated")
    x, y, w = np.array(fit.x), np.array(fit.y), np.array(fit.weights)
    places, codes = np.unique(x, return_inverse=True)
    groups = [(y[codes == j], w[codes == j]) for j in range(len(places))]
    means = [total(weight * signal) / total(weight) for signal, weight in groups]
    squares = [total(weight * (signal - mean) ** 2) for (signal, weight), mean in zip(groups, means, strict=True)]
    pooled, pooled_df = _pooled(fit, squares, len(places))
    rows = []
    for place, (signal, weight), mean, square in zip(places.tolist(), groups, means, squares, strict=True):
        s, df = (pooled, pooled_df) if scatter == "pooled" else _own(square, len(signal))
        rows.append(_row(fit, place, mean, None if s is None else s / math.sqrt(total(weight)), df, len(signal), level))
    return tuple(rows)


def _row(fit: Line, place: float, mean: float, u: float | None, df: int, n: int, level: float) -> BackCalculated:
    """`u`: standard uncertainty of the mean signal, None when nothing tells it."""
    found = (mean - fit.intercept) / fit.slope
    percent = u_percent = low = high = reason = None
    if place <= 0:
        reason = f"a percentage of level {place:g} is undefined"
    else:
        percent = 100 * (found - place) / place
        if u is None:
            reason = "1 signal at this level: its own scatter is unknown"
        else:
            u_percent = 100 * u / abs(fit.slope) / place
            half = t_quantile((1 + level) / 2, df) * u_percent
            low, high = percent - half, percent + half
    return BackCalculated(place, n, found, found - place, percent, u_percent, df, low, high, level, reason)


def _pooled(fit: Line, squares: list[float], levels: int) -> tuple[float, int]:
    df = fit.n - levels
    return (math.sqrt(math.fsum(squares) / df), df) if df > 0 else (fit.residual_sd, fit.df)


def _own(square: float, n: int) -> tuple[float | None, int]:
    return (math.sqrt(square / (n - 1)), n - 1) if n > 1 else (None, 0)


def _weight(fit: Line, weight_at_y0: float | None) -> float:
    """The weight of one signal at y0 where weights average 1."""
    if weight_at_y0 is None:
        if fit.weighted:
            raise ValueError("the fit is weighted: weight_at_y0 is needed, in the units of its weights")
        return 1.0
    if not fit.weighted:
        raise ValueError("the fit has no weights: weight_at_y0 has no unit")
    return number(weight_at_y0, "weight_at_y0", above=0) / fit.weight_mean
