"""Is the line straight? Lack of fit, the fitting test, and the curve against the line.

F and p are diagnostics: with many points a harmless bend is significant, with few a bad
one is not. What decides is how far, in per cent of the level, the levels
(`calibration_inverse.back_calculated`) or the curve (`quadratic_against_line`) lie from the line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import Floats, confidence, count, number
from validate.stats._sums import total
from validate.stats.calibration_line import Line, line
from validate.stats.intervals import t_quantile

LEVEL_OF_FITTING_TEST = 0.99
ROUNDING = 1e-15
"""Residuals below this part of the largest signal are those of rounding."""


@dataclass(frozen=True)
class LackOfFit:
    """F of the level means about the line against the scatter within levels; None with the `reason`."""

    f: float | None
    df_lack: int
    df_pure: int
    p_value: float | None
    ss_lack: float
    ss_pure: float
    reason: str | None = None


def lack_of_fit(x: ArrayLike, y: ArrayLike, weights: ArrayLike | None = None) -> LackOfFit:
    """Lack of fit of the (weighted) straight line, from replicates.

        F = [Σ_j W_j(ȳ_j − ŷ_j)²/(k − 2)] / [ΣΣ w(y − ȳ_j)²/(n − k)],   df k − 2 and n − k

    k levels, ȳ_j weighted mean and W_j total weight at level j. f and p are None, with the
    reason, when replicates repeat exactly. A large p is no proof of linearity.

    Raises ValueError for fewer than 3 levels or no replicates, and like `line`.

    Source: N. R. Draper, H. Smith, Applied Regression Analysis, section 1.5 (from memory).

    >>> test = lack_of_fit([1, 1, 2, 2, 4, 4], [1.0, 1.1, 2.1, 1.9, 4.1, 4.0])
    >>> round(test.f, 3), test.df_lack, test.df_pure
    (0.321, 1, 3)
    """
    fit = line(x, y, weights)
    residual, w, signal = np.array(fit.residuals), np.array(fit.weights), np.array(fit.y)
    levels, codes = np.unique(np.array(fit.x), return_inverse=True)
    k, n = len(levels), fit.n
    if k < 3:
        raise ValueError(f"{count(k, 'level')} found, at least 3 needed")
    if n == k:
        raise ValueError(f"no replicates among {n} points: at least one level must be measured twice")
    weight = np.bincount(codes, w)
    mean = np.bincount(codes, w * residual) / weight
    ss_lack, ss_pure = total(weight * mean**2), total(w * (residual - mean[codes]) ** 2)
    if ss_pure <= 0 or all(np.ptp(signal[codes == j]) == 0 for j in range(k)):
        return LackOfFit(None, k - 2, n - k, None, ss_lack, 0.0, "the replicates repeat exactly: F is undefined")
    f = ss_lack / (k - 2) / (ss_pure / (n - k))
    return LackOfFit(f, k - 2, n - k, float(special.fdtrc(k - 2, n - k, f)), ss_lack, ss_pure)


@dataclass(frozen=True)
class FittingTest:
    """F on 1 and `df` degrees of freedom; `s_line`, `s_quadratic` are the residual SDs compared."""

    f: float | None
    df: int
    p_value: float | None
    critical_99: float
    s_line: float
    s_quadratic: float
    reason: str | None = None


def mandel_fitting_test(x: ArrayLike, y: ArrayLike) -> FittingTest:
    """Does a quadratic fit better than the line?  F = ((n − 2)s₁² − (n − 3)s₂²)/s₂² on 1 and n − 3 df.

    s₁, s₂: residual SDs of line and quadratic. The declared level is 99 %. Unweighted.
    f and p are None, with the reason, when the points lie on the quadratic exactly.

    Raises ValueError for fewer than 4 points or 3 levels, and like `line`.

    Source: ISO 8466-1:1990, fitting test (from memory).

    >>> x = [0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5]
    >>> y = [0.14, 0.281, 0.405, 0.535, 0.662, 0.789, 0.916, 1.058, 1.173, 1.303]
    >>> test = mandel_fitting_test(x, y)
    >>> round(test.f, 4), test.df, round(test.critical_99, 4)
    (0.8079, 7, 12.2464)
    """
    bend = _bend(line(x, y))
    critical = float(special.fdtri(1, bend.df, LEVEL_OF_FITTING_TEST))
    f, p, reason = _f_of_bend(bend)
    return FittingTest(f, bend.df, p, critical, bend.line.residual_sd, bend.s, reason)


@dataclass(frozen=True)
class QuadraticAgainstLine:
    """The quadratic minus the line, in per cent of the level, where it is largest in the range.

    `deviation_percent` with its limits belongs to the level `at`; `lowest`, `highest` are the
    range; `curvature` is the coefficient of x² with its standard error; `f`, `p_value` (1 and
    `df`) test it against 0. `at_levels`: (level, deviation_percent) at the calibrated levels
    in the range.
    """

    deviation_percent: float
    at: float
    low: float
    high: float
    level: float
    lowest: float
    highest: float
    curvature: float
    se_curvature: float
    f: float | None
    df: int
    p_value: float | None
    at_levels: tuple[tuple[float, float], ...]
    reason: str | None = None


def quadratic_against_line(
    x: ArrayLike,
    y: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    lowest: float | None = None,
    highest: float | None = None,
    level: float = 0.90,
) -> QuadraticAgainstLine:
    """Largest distance between the least-squares quadratic and line, in per cent of the level.

    With q(x) = (x − x̄)² − α − β(x − x̄), orthogonal to the line, and c its coefficient:

        D(x) = 100·c·q(x)/(b·x),   limits 100·(c ± t·s_c)·q(x)/(b·x),   t on n − 3 df

    |q(x)/x| is largest at an end of the range or at x² = (x̄² − α + β·x̄), so no grid is
    needed. The slope b is taken as exact: its own error changes D by a few per cent of D only.
    `lowest`, `highest`: the range, inside the calibrated one; by default from the lowest
    level above 0 to the highest.

    Raises ValueError for fewer than 4 points or 3 levels, a range that is empty, starts at
    or below 0 or leaves the calibrated levels, a slope of 0, and like `line`.

    Source: by derivation from orthogonal polynomials.

    >>> found = quadratic_against_line([1, 2, 3, 4, 5], [1.0, 2.0, 2.9, 3.7, 4.4])
    >>> round(found.deviation_percent, 2), found.at
    (-11.76, 1.0)
    """
    bend = _bend(line(x, y, weights))
    fit = bend.line
    if fit.slope == 0:
        raise ValueError("the slope is 0: a deviation has no amount")
    start, end = _range(fit, lowest, highest)
    places = [start, end]
    turning = fit.x_mean**2 - bend.alpha + bend.beta * fit.x_mean
    if turning > 0 and start < math.sqrt(turning) < end:
        places.append(math.sqrt(turning))

    def share(place: float) -> float:
        """Per cent of the level at `place` for a curvature of 1."""
        return 100 * float(bend.shape(place)) / (fit.slope * place)

    at = max(places, key=lambda place: abs(share(place)))
    t = t_quantile((1 + confidence(level)) / 2, bend.df)
    ends = sorted((bend.curvature + sign * t * bend.se) * share(at) for sign in (-1, 1))
    levels = [float(v) for v in np.unique(np.array(fit.x)) if start <= v <= end]
    f, p, reason = _f_of_bend(bend)
    return QuadraticAgainstLine(
        deviation_percent=bend.curvature * share(at),
        at=at,
        low=ends[0],
        high=ends[1],
        level=level,
        lowest=start,
        highest=end,
        curvature=bend.curvature,
        se_curvature=bend.se,
        f=f,
        df=bend.df,
        p_value=p,
        at_levels=tuple((v, bend.curvature * share(v)) for v in levels),
        reason=reason,
    )


@dataclass(frozen=True)
class _Bend:
    """The quadratic as the line plus curvature·q(x), q orthogonal to the line."""

    line: Line
    alpha: float
    beta: float
    curvature: float
    se: float
    s: float
    df: int

    def shape(self, x: float | Floats) -> float | Floats:
        d = x - self.line.x_mean
        return d * d - self.alpha - self.beta * d


def _bend(fit: Line) -> _Bend:
    if fit.n < 4:
        raise ValueError(f"{count(fit.n, 'point')} found, at least 4 needed")
    levels = len(set(fit.x))
    if levels < 3:
        raise ValueError(f"{count(levels, 'level')} found, at least 3 needed")
    x, w, residual = np.array(fit.x), np.array(fit.weights), np.array(fit.residuals)
    d = x - fit.x_mean
    alpha, beta = fit.s_xx / fit.n, total(w * d**3) / fit.s_xx
    q = d * d - alpha - beta * d
    squares = total(w * q * q)
    curvature = total(w * q * residual) / squares
    left, df = residual - curvature * q, fit.n - 3
    s = math.sqrt(total(w * left * left) / df)
    return _Bend(fit, alpha, beta, curvature, s / math.sqrt(squares), s, df)


def _f_of_bend(bend: _Bend) -> tuple[float | None, float | None, str | None]:
    if bend.s <= ROUNDING * max(abs(v) for v in bend.line.y):
        return None, None, "the points lie on the quadratic exactly: F is undefined"
    f = (bend.curvature / bend.se) ** 2
    return f, float(special.fdtrc(1, bend.df, f)), None


def _range(fit: Line, lowest: float | None, highest: float | None) -> tuple[float, float]:
    if lowest is None:
        above = [v for v in fit.x if v > 0]
        lowest = min(above) if above else fit.highest
    start = number(lowest, "the lower end of the range", above=0)
    end = number(fit.highest if highest is None else highest, "the upper end of the range")
    if not fit.lowest <= start < end <= fit.highest:
        raise ValueError(
            f"the range {start:g} to {end:g} must rise and lie inside the calibrated {fit.lowest:g} to {fit.highest:g}"
        )
    return start, end
