"""Deming's line: two ways of measuring that both have errors of a known ratio."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._input import Floats, number, vector
from validate.stats._sums import squared_deviations, total
from validate.stats.intervals import Limits, t_limits

FEWEST = 10


@dataclass(frozen=True)
class Deming:
    """y = intercept + slope · x, both with errors; standard errors by the jackknife.

    `covariance` is that of slope and intercept, by the jackknife too.
    """

    slope: float
    intercept: float
    se_slope: float
    se_intercept: float
    slope_limits: Limits
    intercept_limits: Limits
    n: int
    df: int
    s_xx: float
    s_yy: float
    s_xy: float
    mean_x: float
    mean_y: float
    variance_ratio: float
    covariance: float


def deming(x: ArrayLike, y: ArrayLike, *, variance_ratio: float, level: float = 0.95) -> Deming:
    """Line through points whose errors have the constant ratio λ = var(error of y)/var(error of x).

    slope = (S_yy − λS_xx + √((S_yy − λS_xx)² + 4λS_xy²)) / (2S_xy), intercept = ȳ − slope·x̄.
    Standard errors: jackknife, √((n − 1)/n · Σ(b₍ᵢ₎ − b̄)²); limits: t on n − 2 df.

    `x`, `y`: n numbers each. Errors of constant size are assumed; for errors in proportion to
    the value give logarithms: a slope of 1 then means the same ratio at every level.

    Raises ValueError for n < 10, unequal numbers, a missing value, λ that is not above 0, or
    S_xy = 0 (no line).

    Source: W. E. Deming, Statistical Adjustment of Data (1943); jackknife after K. Linnet (1990);
    both from memory.

    >>> x = [1.0, 2, 3, 4, 5, 6, 7, 8, 9, 10]
    >>> round(deming(x, [2 * value + 1 for value in x], variance_ratio=1).slope, 12)
    2.0
    """
    first, second = pairs(x, y, at_least=FEWEST)
    ratio, n = number(variance_ratio, "the variance ratio", above=0), first.size
    mean_x, s_xx = squared_deviations(first)
    mean_y, s_yy = squared_deviations(second)
    deviation_x, deviation_y = first - mean_x, second - mean_y
    s_xy = total(deviation_x * deviation_y)
    # A product of two independent deviations is never exactly 0 in doubles.
    if abs(s_xy) <= 1e-14 * math.sqrt(s_xx * s_yy):
        raise ValueError("x and y do not vary together: there is no line")
    slope = float(_slope(np.array(s_xx), np.array(s_yy), np.array(s_xy), ratio))
    # Leaving out point i takes n/(n − 1) times its own product from each sum.
    share = n / (n - 1)
    slopes = _slope(
        s_xx - share * deviation_x**2, s_yy - share * deviation_y**2, s_xy - share * deviation_x * deviation_y, ratio
    )
    means = ((n * mean_x - first) / (n - 1), (n * mean_y - second) / (n - 1))
    intercepts = means[1] - slopes * means[0]
    se_slope, se_intercept = math.sqrt(_jackknife(slopes, slopes)), math.sqrt(_jackknife(intercepts, intercepts))
    intercept = mean_y - slope * mean_x
    return Deming(
        slope=slope,
        intercept=intercept,
        se_slope=se_slope,
        se_intercept=se_intercept,
        slope_limits=t_limits(slope, se_slope, n - 2, level),
        intercept_limits=t_limits(intercept, se_intercept, n - 2, level),
        n=n,
        df=n - 2,
        s_xx=s_xx,
        s_yy=s_yy,
        s_xy=s_xy,
        mean_x=mean_x,
        mean_y=mean_y,
        variance_ratio=ratio,
        covariance=_jackknife(slopes, intercepts),
    )


def pairs(x: ArrayLike, y: ArrayLike, *, at_least: int) -> tuple[Floats, Floats]:
    """`x` and `y` as checked arrays of the same length."""
    first, second = vector(x, "x value", at_least=at_least), vector(y, "y value", at_least=at_least)
    if first.size != second.size:
        raise ValueError(f"{first.size} x and {second.size} y found: one of each is needed for every sample")
    return first, second


def _slope(s_xx: Floats, s_yy: Floats, s_xy: Floats, ratio: float) -> Floats:
    difference = s_yy - ratio * s_xx
    return (difference + np.sqrt(difference**2 + 4 * ratio * s_xy**2)) / (2 * s_xy)


def _jackknife(a: Floats, b: Floats) -> float:
    """Covariance of two estimates from their values with one point left out at a time."""
    n = a.size
    return (n - 1) / n * float(np.sum((a - a.mean()) * (b - b.mean())))
