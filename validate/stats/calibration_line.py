"""The straight calibration line y = a + b·x by least squares, weighted or not."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._input import Floats, confidence, count, number, vector
from validate.stats._sums import products, total
from validate.stats.intervals import Limits, t_limits


@dataclass(frozen=True)
class Line:
    """A fitted line with what inverse prediction and a reviewer need of it.

    `slope`, `intercept` with standard errors and limits at `level` on `df`; a line through
    the origin has intercept 0 and None for `se_intercept` and `intercept_limits`.
    `residual_sd` is that of a signal of weight 1, weights having been made to average 1
    (`weight_mean` is the average of those that were passed). `r_squared` is 1 − SS_res/SS_y,
    SS_y about the mean; through the origin (`r_squared_kind` "uncentred") about 0, which is
    not comparable. It is None when the signals do not vary. `residuals` = y − `fitted`, in
    the order of the points `x`, `y`, `weights`. `x_mean`, `y_mean` (weighted; 0 through the
    origin), `s_xx` = Σw(x − x_mean)²: the sums of a calculation by hand.
    """

    slope: float
    intercept: float
    se_slope: float
    se_intercept: float | None
    slope_limits: Limits
    intercept_limits: Limits | None
    residual_sd: float
    r_squared: float | None
    r_squared_kind: str
    residuals: tuple[float, ...]
    fitted: tuple[float, ...]
    df: int
    n: int
    level: float
    through_origin: bool
    weighted: bool
    weight_mean: float
    x_mean: float
    y_mean: float
    s_xx: float
    x: tuple[float, ...]
    y: tuple[float, ...]
    weights: tuple[float, ...]

    @cached_property
    def lowest(self) -> float:
        """The lowest calibrated x."""
        return min(self.x)

    @cached_property
    def highest(self) -> float:
        """The highest calibrated x."""
        return max(self.x)

    @property
    def relative_slope_error(self) -> float:
        """s_b/|b|; infinite for a slope of 0."""
        return self.se_slope / abs(self.slope) if self.slope else math.inf

    @property
    def method_sd(self) -> float | None:
        """s_x0 = s/|b|: the residual SD in units of x (ISO 8466-1); None for a slope of 0."""
        return self.residual_sd / abs(self.slope) if self.slope else None

    @property
    def method_cv_percent(self) -> float | None:
        """100·s_x0 over the mean of all x (ISO 8466-1); None for a slope of 0 or a mean not above 0."""
        mean = total(np.array(self.x)) / self.n
        return 100 * self.method_sd / mean if self.method_sd is not None and mean > 0 else None

    def leverage(self, x: float) -> float:
        """1/Σw + (x − x_mean)²/S_xx; through the origin x²/Σw·x². Its root times s is the error of the line at x."""
        if self.through_origin:
            return x * x / self.s_xx
        return 1 / self.n + (x - self.x_mean) ** 2 / self.s_xx

    def at(self, x: float, *, level: float | None = None) -> Limits:
        """Confidence limits of the line at x (of its mean signal); the line itself is half way between them."""
        place = number(x, "x")
        u = self.residual_sd * math.sqrt(self.leverage(place))
        return t_limits(self.intercept + self.slope * place, u, self.df, self.level if level is None else level)


def line(
    x: ArrayLike, y: ArrayLike, weights: ArrayLike | None = None, through_origin: bool = False, *, level: float = 0.95
) -> Line:
    """Fit y = a + b·x (or y = b·x) by minimising Σw(y − a − b·x)².

    With w made to average 1, x̄_w = Σwx/Σw, S_xx = Σw(x − x̄_w)² and s² = Σw·r²/df, df = n − 2:

        b = Σw(x − x̄_w)(y − ȳ_w)/S_xx,   a = ȳ_w − b·x̄_w
        s_b = s/√S_xx,   s_a = s·√(1/Σw + x̄_w²/S_xx)

    Through the origin b = Σwxy/Σwx², s_b = s/√Σwx², df = n − 1. `x`: levels (amount or
    concentration); `y`: signals, one for each, replicates as separate points; `weights`:
    reciprocal variances of the signals up to a factor, finite and above 0 (`level_weights`).
    Errors of x are taken as none, those of y as independent and normal. The coefficients
    are refined once on residuals without rounding error, so that a large common part of x
    or y costs no digits.

    Raises ValueError for fewer than 3 points (2 through the origin), lengths that differ,
    equal x, a weight that is not above 0.

    Source: any text on least squares; ISO 8466-1:1990 for the unweighted form (from memory).

    >>> fit = line([0, 2, 4, 6, 8, 10, 12], [2.1, 5.0, 9.0, 12.6, 17.3, 21.0, 24.7])
    >>> round(fit.slope, 4), round(fit.intercept, 4), round(fit.residual_sd, 4)
    (1.9304, 1.5179, 0.4328)
    >>> round(fit.se_slope, 4), round(fit.se_intercept, 4), fit.df
    (0.0409, 0.2949, 5)
    """
    confidence(level)
    amounts, signals, w, weight_mean = points(x, y, weights, at_least=2 if through_origin else 3)
    n, df = len(amounts), len(amounts) - (1 if through_origin else 2)
    x_mean = 0.0 if through_origin else total(w * amounts) / n
    y_mean = 0.0 if through_origin else total(w * signals) / n
    dx, dy = amounts - x_mean, signals - y_mean
    s_xx = total(w * dx * dx) - (0.0 if through_origin else total(w * dx) ** 2 / n)
    if s_xx <= 0 or (float(np.ptp(amounts)) == 0 and not through_origin):
        raise ValueError(
            "all x are 0: no slope can be found" if through_origin else "all x are equal: no slope can be found"
        )
    slope = number(total(w * dx * dy) / s_xx, "the slope")
    intercept = 0.0 if through_origin else y_mean - slope * x_mean
    for _ in range(2):
        residual = _residuals(amounts, signals, intercept, slope)
        step = total(w * dx * residual) / s_xx
        intercept = 0.0 if through_origin else intercept + (total(w * residual) / n - step * x_mean)
        slope = slope + step
    residual = _residuals(amounts, signals, intercept, slope)
    squares, about = total(w * residual * residual), total(w * dy * dy)
    s = math.sqrt(squares / df)
    se_slope = s / math.sqrt(s_xx)
    se_intercept = None if through_origin else s * math.sqrt(1 / n + x_mean**2 / s_xx)
    return Line(
        slope=slope,
        intercept=intercept,
        se_slope=se_slope,
        se_intercept=se_intercept,
        slope_limits=t_limits(slope, se_slope, df, level),
        intercept_limits=None if se_intercept is None else t_limits(intercept, se_intercept, df, level),
        residual_sd=s,
        r_squared=1 - squares / about if about > 0 else None,
        r_squared_kind="uncentred" if through_origin else "centred",
        residuals=tuple(residual.tolist()),
        fitted=tuple((signals - residual).tolist()),
        df=df,
        n=n,
        level=level,
        through_origin=through_origin,
        weighted=weights is not None,
        weight_mean=weight_mean,
        x_mean=x_mean,
        y_mean=y_mean,
        s_xx=s_xx,
        x=tuple(amounts.tolist()),
        y=tuple(signals.tolist()),
        weights=tuple(w.tolist()),
    )


def level_weights(x: ArrayLike, *, power: float, floor: float | None = None) -> Floats:
    """Weights 1/x^power; below `floor` (above 0) those of the floor.

    `power` 1: the variance grows with the level; 2: the relative standard deviation is the
    same at all levels. Where standard deviations of the levels were described by a function
    (`precision_function`), pass 1/s² of it as weights instead.

    Raises ValueError for an x that is not above 0 when there is no floor.

    >>> level_weights([0, 1, 2], power=2, floor=0.5).tolist()
    [4.0, 1.0, 0.25]
    """
    amounts = vector(x, "x")
    if floor is not None:
        amounts = np.maximum(amounts, number(floor, "the floor of the weights", above=0))
    elif np.any(amounts <= 0):
        lowest = float(np.min(amounts))
        raise ValueError(
            f"level {lowest:g} has no weight 1/x^{power:g}: give a floor, or weights from a variance function"
        )
    return amounts ** -number(power, "the power", not_below=0)


def points(
    x: ArrayLike, y: ArrayLike, weights: ArrayLike | None, *, at_least: int
) -> tuple[Floats, Floats, Floats, float]:
    """Checked x, y, weights that average 1, and the average of the weights passed (1 without)."""
    amounts, signals = vector(x, "x", at_least=at_least), vector(y, "signal", at_least=at_least)
    if len(amounts) != len(signals):
        raise ValueError(f"{len(amounts)} x and {count(len(signals), 'signal')} found; one each is needed")
    if weights is None:
        return amounts, signals, np.ones(len(amounts)), 1.0
    w = vector(weights, "weight")
    if len(w) != len(amounts):
        raise ValueError(f"{count(len(w), 'weight')} found for {count(len(amounts), 'point')}; one for each is needed")
    if np.any(w <= 0):
        raise ValueError(f"a weight must be above 0, found {float(np.min(w)):g}")
    mean = total(w) / len(w)
    return amounts, signals, w / mean, mean


def _residuals(x: Floats, y: Floats, intercept: float, slope: float) -> Floats:
    """y − a − b·x, each rounded once."""
    product, rest = products(x, np.full(len(x), slope))
    parts = zip(y.tolist(), (-product).tolist(), (-rest).tolist(), strict=True)
    return np.array([math.fsum((signal, -intercept, high, low)) for signal, high, low in parts])
