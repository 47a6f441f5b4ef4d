"""Tests that flag a result, a pair of results, or a variance for a look at its record.

A flag is a question, never a reason: nothing here removes anything. The statistics
assume normal scatter of everything else. Critical values are at 5 % and 1 %; `p_bound`
is the chance of a statistic at least as extreme, exact when `exact` is True, otherwise an
upper bound (Bonferroni).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import Floats, vector
from validate.stats._sums import squared_deviations
from validate.stats.grubbs_pair_critical import CRITICAL

End = Literal["low", "high"]


@dataclass(frozen=True)
class Flag:
    """`index` is the position of the extreme value, `value` the value itself."""

    statistic: float
    critical_5: float
    critical_1: float
    p_bound: float
    exact: bool
    index: int
    value: float
    n: int


def grubbs(x: ArrayLike, *, sides: Literal[1, 2] = 2, end: End | None = None) -> Flag:
    """Grubbs' test of the result farthest from the mean: G = |x_i − mean| / s.

    `sides=2` (ISO 5725-2): the farthest on either side. `sides=1`: the farthest at the
    `end` named before the data were seen. With q the upper point α/(sides·n) of t on n − 2
    df: G_critical = (n − 1)/√n · √(q²/(n − 2 + q²)).

    Raises ValueError for n < 3, all results equal, or `sides=1` without `end`.

    Source: F. E. Grubbs, G. Beck, Technometrics 14 (1972) 847-854 and ISO 5725-2:1994
    7.3.4 with Table 5 (from memory).

    >>> found = grubbs([10.1, 10.0, 9.9, 10.2, 10.0, 11.4])
    >>> round(found.statistic, 3), round(found.critical_1, 3), found.index
    (2.008, 1.973, 5)
    """
    values = vector(x, "result", at_least=3)
    n, (mean, squares) = len(values), squared_deviations(values)
    if sides not in (1, 2) or (sides == 1) != (end in ("low", "high")):
        raise ValueError("sides=2 without an end, or sides=1 with end 'low' or 'high' is needed")
    _need_scatter(squares)
    deviation = values - mean
    distance = np.abs(deviation) if sides == 2 else deviation if end == "high" else -deviation
    index = int(np.argmax(distance))
    statistic = float(distance[index]) / math.sqrt(squares / (n - 1))
    # Two values can be this far out together only below a limit; beyond it the bound is exact.
    exact = statistic**2 > ((n - 1) / 2 if sides == 2 else (n - 1) * (n - 2) / (2 * n))
    return Flag(
        statistic=statistic,
        critical_5=_grubbs_critical(n, 0.05 / (sides * n)),
        critical_1=_grubbs_critical(n, 0.01 / (sides * n)),
        p_bound=min(1.0, sides * n * _grubbs_tail(statistic, n)),
        exact=exact,
        index=index,
        value=float(values[index]),
        n=n,
    )


@dataclass(frozen=True)
class PairFlag:
    """`index` holds the positions of the two extreme values, the more extreme one first.

    Small values of `statistic` are extreme. `monte_carlo_error` are the standard errors of
    the two critical values, which come from a simulation.
    """

    statistic: float
    critical_5: float
    critical_1: float
    p_bound: float
    index: tuple[int, int]
    values: tuple[float, float]
    n: int
    monte_carlo_error: tuple[float, float]


def grubbs_pair(x: ArrayLike, *, end: End) -> PairFlag:
    """Grubbs' test of the two lowest or two highest results together.

    statistic = Σ(x − mean)² without the pair / Σ(x − mean)² of all; the pair is extreme
    when it is below the critical value. As in ISO 5725-2 the critical values are for
    looking at both ends: 5 % stands for 2.5 % at each end, 1 % for 0.5 %. They are from
    `grubbs_pair_critical` (simulated, seed recorded). `p_bound` is Bonferroni's bound,
    n·(n − 1)/2 · statistic^((n − 3)/2), for both ends: about twice the true chance where
    that is small.

    Raises ValueError for n below 4 or above 40, or all results equal.

    Source: F. E. Grubbs, G. Beck, Technometrics 14 (1972) 847-854 and ISO 5725-2:1994
    7.3.4 with Table 5 (from memory).

    >>> found = grubbs_pair([10.1, 10.0, 9.9, 10.2, 10.0, 10.1, 11.4, 11.6], end="high")
    >>> found.statistic < found.critical_1, found.index
    (True, (7, 6))
    """
    values = vector(x, "result", at_least=min(CRITICAL))
    n = len(values)
    if n > max(CRITICAL):
        raise ValueError(f"{n} results found, critical values are known up to {max(CRITICAL)}")
    if end not in ("low", "high"):
        raise ValueError("end must be 'low' or 'high'")
    _, squares = squared_deviations(values)
    _need_scatter(squares)
    order = np.argsort(values, kind="stable")
    first, second = (order[0], order[1]) if end == "low" else (order[-1], order[-2])
    _, rest = squared_deviations(np.delete(values, [first, second]))
    statistic = rest / squares
    five, five_error, one, one_error = CRITICAL[n]
    return PairFlag(
        statistic=statistic,
        critical_5=five,
        critical_1=one,
        p_bound=min(1.0, n * (n - 1) / 2 * statistic ** ((n - 3) / 2)),
        index=(int(first), int(second)),
        values=(float(values[first]), float(values[second])),
        n=n,
        monte_carlo_error=(five_error, one_error),
    )


def cochran(variances: ArrayLike, n: int) -> Flag:
    """Cochran's test of the largest variance: C = s²_max / Σs².

    `variances`: p variances of cells with `n` results each (n ≥ 2; when sizes differ, the
    most frequent one). One-sided: it flags a large spread only. With F the upper point α/p
    of F on n − 1 and (p − 1)(n − 1) df: C_critical = 1/(1 + (p − 1)/F).

    Raises ValueError for p < 2, n < 2, a negative variance, or all variances 0.

    Source: ISO 5725-2:1994 7.3.3 with Table 4 (from memory).

    >>> found = cochran([0.02, 0.03, 0.01, 0.02, 0.35, 0.04, 0.02, 0.01], 2)
    >>> round(found.statistic, 3), round(found.critical_1, 3), found.index
    (0.7, 0.794, 4)
    """
    values = vector(variances, "variance", at_least=2)
    if int(n) != n or n < 2:
        raise ValueError(f"{n} results per variance found, at least 2 needed")
    if np.any(values < 0):
        raise ValueError("a variance cannot be negative")
    p, df = len(values), int(n) - 1
    share, index = _largest_share(values)
    f = math.inf if share >= 1 else (p - 1) * share / (1 - share)
    tail = 0.0 if math.isinf(f) else float(special.fdtrc(df, (p - 1) * df, f))
    return Flag(
        statistic=share,
        critical_5=_cochran_critical(p, df, 0.05),
        critical_1=_cochran_critical(p, df, 0.01),
        p_bound=min(1.0, p * tail),
        exact=share >= 0.5,
        index=index,
        value=float(values[index]),
        n=p,
    )


def _need_scatter(squares: float) -> None:
    if squares <= 0:
        raise ValueError("all results are equal: nothing can stand out")


def _grubbs_critical(n: int, tail: float) -> float:
    t = float(special.stdtrit(n - 2, tail))
    return (n - 1) / math.sqrt(n) * math.sqrt(t * t / (n - 2 + t * t))


def _grubbs_tail(statistic: float, n: int) -> float:
    """P(one named standardised deviation is above the statistic)."""
    rest = (n - 1) ** 2 / n - statistic**2
    if rest <= 0:
        return 0.0
    return float(special.stdtr(n - 2, -statistic * math.sqrt((n - 2) / rest)))


def _largest_share(variances: Floats) -> tuple[float, int]:
    whole = math.fsum(variances.tolist())
    if whole <= 0:
        raise ValueError("all variances are 0: no share can be computed")
    index = int(np.argmax(variances))
    return float(variances[index]) / whole, index


def _cochran_critical(p: int, df: int, alpha: float) -> float:
    f = float(special.fdtri(df, (p - 1) * df, 1 - alpha / p))
    return 1 / (1 + (p - 1) / f)
