"""Are spreads equal, and how does precision depend on the level?

Which test fits depends on the results per group: with two or three, Cochran's test of the
largest variance (`outliers.cochran`, equal n) or the power form of `precision_by_level`;
with four or more `brown_forsythe`. Levene's test misleads below four.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import Floats, count, group_codes, vector
from validate.stats._sums import cells, centred, squared_deviations, total
from validate.stats.intervals import Limits, t_limits

FEWEST_PER_GROUP = 4
Form = Literal["proportional", "linear", "power"]


@dataclass(frozen=True)
class EqualSpread:
    """F test of the mean distances from the group medians. A large p is no proof of equality."""

    f: float
    df1: int
    df2: int
    p_value: float
    n_groups: int


def brown_forsythe(values: ArrayLike, groups: Iterable[Hashable]) -> EqualSpread:
    """Levene's test on medians: one-way F of z_ij = |x_ij − median_i| on p − 1 and N − p df.

    Raises ValueError for fewer than 2 groups, fewer than 4 results in a group (the test
    misleads there), or no scatter of the distances.

    Source: M. B. Brown, A. B. Forsythe, J. Am. Stat. Assoc. 69 (1974) 364-367 (from memory).

    >>> test = brown_forsythe([1, 2, 3, 4, 10, 20, 30, 40], ["a"] * 4 + ["b"] * 4)
    >>> round(test.f, 3), test.df1, test.df2
    (9.624, 1, 6)
    """
    x = vector(values, "result", at_least=2 * FEWEST_PER_GROUP)
    codes, labels = group_codes(groups, len(x))
    p, sizes = len(labels), np.bincount(codes)
    if p < 2:
        raise ValueError(f"{count(p, 'group')} found, at least 2 needed")
    if sizes.min() < FEWEST_PER_GROUP:
        raise ValueError(f"{count(int(sizes.min()), 'result')} found in a group, at least {FEWEST_PER_GROUP} needed")
    order = np.argsort(codes, kind="stable")
    medians = np.array([np.median(part) for part in np.split(x[order], np.cumsum(sizes)[:-1])])
    _, distance = centred(np.abs(x - medians[codes]))
    cell = cells(distance, codes)
    if cell.squares_within <= 0:
        raise ValueError("the distances from the medians do not scatter: no test is possible")
    df1, df2 = p - 1, len(x) - p
    f = total(cell.sizes * cell.means**2) / df1 / (cell.squares_within / df2)
    return EqualSpread(f=f, df1=df1, df2=df2, p_value=float(special.fdtrc(df1, df2, f)), n_groups=p)


@dataclass(frozen=True)
class ByLevel:
    """Standard deviation as a function of level.

    | form | function | intercept | slope |
    |---|---|---|---|
    | `proportional` | s = b·m | 0 | b |
    | `linear` | s = a + b·m | a | b |
    | `power` | lg s = c + d·lg m | c | d |

    `fitted` are standard deviations at the given levels; `se_slope`, `df`,
    `slope_limits` and `p_value` (slope against 0) are None with two levels (`linear`,
    `power`) or one: nothing is left to judge the scatter by. `residual_sd` is that of
    s/(fitted s), or of lg s for `power`.
    """

    form: Form
    intercept: float
    slope: float
    fitted: tuple[float, ...]
    residual_sd: float | None
    se_slope: float | None
    slope_limits: Limits | None
    df: int
    p_value: float | None

    def at(self, level: float) -> float:
        """The standard deviation that the function gives at a level."""
        if self.form == "power":
            return float(10 ** (self.intercept + self.slope * math.log10(level)))
        return self.intercept + self.slope * level


def precision_by_level(levels: ArrayLike, sds: ArrayLike, *, form: Form, level: float = 0.95) -> ByLevel:
    """Fit one of the three functions of ISO 5725-2: s = b·m, s = a + b·m, lg s = c + d·lg m.

    `levels` m_j and `sds` s_j: one pair per level, in one unit. `proportional`: b = mean of
    s_j/m_j, the weighted fit with weights 1/s². `linear`: weights 1/ŝ², first from the
    observed s, then twice from the fitted ones. `power`: ordinary line through the
    logarithms; with two or three results per level its slope against 0 is the test for
    variances that depend on the level.

    Raises ValueError for lengths that differ, too few levels (1, 2, 2), levels that are all
    equal, a level or (except `proportional`) a standard deviation that is not above 0, or
    a line that falls to 0 within the levels.

    Source: ISO 5725-2:1994 7.5 (from memory).

    >>> fit = precision_by_level([1, 2, 5, 10], [0.12, 0.19, 0.55, 0.98], form="proportional")
    >>> round(fit.slope, 5)
    0.10575
    """
    m, s = vector(levels, "level", at_least=1), vector(sds, "standard deviation", at_least=1)
    if len(m) != len(s):
        raise ValueError(f"{len(m)} levels and {len(s)} standard deviations found; one each is needed")
    if np.any(m <= 0) or np.any(s < 0):
        raise ValueError("levels must be above 0 and standard deviations must not be negative")
    if form == "proportional":
        return _proportional(m, s, level)
    if form not in ("linear", "power"):
        raise ValueError(f"unknown form {form!r}; one of proportional, linear, power is needed")
    if len(np.unique(m)) < 2:
        raise ValueError(f"{len(np.unique(m))} different level found, at least 2 needed")
    if np.any(s <= 0):
        raise ValueError("a standard deviation of 0 found: it has no logarithm and no weight")
    return _power(m, s, level) if form == "power" else _linear(m, s, level)


def _proportional(m: Floats, s: Floats, level: float) -> ByLevel:
    slope, squares = squared_deviations(s / m)
    df = len(m) - 1
    se = math.sqrt(squares / df / len(m)) if df else None
    residual = math.sqrt(squares / df) / slope if df and slope > 0 else None
    return _by_level("proportional", 0.0, slope, slope * m, residual, se, df, level)


def _linear(m: Floats, s: Floats, level: float) -> ByLevel:
    fitted = s
    for _ in range(3):
        weights = 1 / fitted**2
        intercept, slope, spread = _weighted_line(m, s, weights)
        fitted = intercept + slope * m
        if np.any(fitted <= 0):
            raise ValueError("the line through the standard deviations falls to 0 within the levels")
    df = len(m) - 2
    chi2 = total(weights * (s - fitted) ** 2)
    residual = math.sqrt(chi2 / df) if df else None
    return _by_level("linear", intercept, slope, fitted, residual, residual and residual / math.sqrt(spread), df, level)


def _power(m: Floats, s: Floats, level: float) -> ByLevel:
    lg_m, lg_s = np.log10(m), np.log10(s)
    intercept, slope, spread = _weighted_line(lg_m, lg_s, np.ones(len(m)))
    df = len(m) - 2
    squares = total((lg_s - intercept - slope * lg_m) ** 2)
    residual = math.sqrt(squares / df) if df else None
    fitted = 10 ** (intercept + slope * lg_m)
    return _by_level("power", intercept, slope, fitted, residual, residual and residual / math.sqrt(spread), df, level)


def _weighted_line(x: Floats, y: Floats, weights: Floats) -> tuple[float, float, float]:
    """Intercept, slope, and Σw(x − x̄_w)²."""
    whole = total(weights)
    x_mean, y_mean = total(weights * x) / whole, total(weights * y) / whole
    spread = total(weights * (x - x_mean) ** 2)
    slope = total(weights * (x - x_mean) * (y - y_mean)) / spread
    return y_mean - slope * x_mean, slope, spread


def _by_level(
    form: Form,
    intercept: float,
    slope: float,
    fitted: Floats,
    residual: float | None,
    se: float | None,
    df: int,
    level: float,
) -> ByLevel:
    t = slope / se if se else None
    return ByLevel(
        form=form,
        intercept=intercept,
        slope=slope,
        fitted=tuple(fitted.tolist()),
        residual_sd=residual,
        se_slope=se,
        slope_limits=None if se is None else t_limits(slope, se, df, level),
        df=df,
        p_value=None if t is None else float(2 * special.stdtr(df, -abs(t))),
    )
