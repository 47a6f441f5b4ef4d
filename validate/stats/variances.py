"""Are the spreads of groups or levels equal?

Which test fits depends on the results per group: with two or three, Cochran's test of the
largest variance (`outliers.cochran`, equal n) or `spread_by_level`; with four or more
`brown_forsythe`. Tests of Levene's kind mislead below four.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import count, group_codes, vector
from validate.stats._sums import cells, centred, total
from validate.stats.intervals import Limits, t_limits

FEWEST_PER_GROUP = 4


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
class SpreadByLevel:
    """Slope d of lg s = c + d·lg m, against 0. A large p is no proof that d is 0."""

    intercept: float
    slope: float
    se_slope: float
    slope_limits: Limits
    t: float | None
    df: int
    p_value: float | None
    reason: str | None = None


def spread_by_level(levels: ArrayLike, sds: ArrayLike, *, level: float = 0.95) -> SpreadByLevel:
    """Does the standard deviation change with the level? Line through lg s on lg m.

    d = 0: constant s; d = 1: constant relative s. For two or three results per level,
    where tests on the single results mislead; all levels with about equally many results.
    `levels`, `sds`: one pair for each of q levels; t on q − 2 df. `t` and `p_value` are
    None, with the reason, when the points lie on a line exactly. For the functions that
    describe s (ISO 5725-2) see `precision_function`.

    Raises ValueError for q < 3, lengths that differ, fewer than 2 different levels, a level
    or a standard deviation that is not above 0.

    Source: ISO 5725-2:1994 7.5, form III (from memory).

    >>> found = spread_by_level([1, 2, 5, 10], [0.12, 0.19, 0.55, 0.98])
    >>> round(found.slope, 4), found.df
    (0.9459, 2)
    """
    m, s = vector(levels, "level", at_least=3), vector(sds, "standard deviation", at_least=3)
    if len(m) != len(s):
        raise ValueError(f"{len(m)} levels and {len(s)} standard deviations found; one each is needed")
    if np.any(m <= 0) or np.any(s <= 0):
        raise ValueError("a level or standard deviation that is not above 0 found: it has no logarithm")
    (x_mean, x), (y_mean, y), df = centred(np.log10(m)), centred(np.log10(s)), len(m) - 2
    spread = total(x * x)
    if spread <= 0:
        raise ValueError("1 different level found, at least 2 needed")
    slope = total(x * y) / spread
    se = math.sqrt(total((y - slope * x) ** 2) / df / spread)
    t = slope / se if se > 0 else None
    return SpreadByLevel(
        intercept=y_mean - slope * x_mean,
        slope=slope,
        se_slope=se,
        slope_limits=t_limits(slope, se, df, level),
        t=t,
        df=df,
        p_value=None if t is None else float(2 * special.stdtr(df, -abs(t))),
        reason="the points lie on a line exactly: t is undefined" if t is None else None,
    )
