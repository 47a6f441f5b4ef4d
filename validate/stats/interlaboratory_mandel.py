"""How consistent laboratories are: h between, k within them; see `interlaboratory`."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import vector, whole_number
from validate.stats._sums import squared_deviations
from validate.stats.intervals import t_quantile

ROUNDING = 1e-12
"""Relative differences below it come from the arithmetic of doubles."""


@dataclass(frozen=True)
class Mandel:
    """One statistic for each laboratory, and the values beyond which a look is due."""

    values: tuple[float, ...]
    critical_5: float
    critical_1: float


def mandel_h(cell_means: ArrayLike) -> Mandel:
    """Consistency between laboratories: h_i = (ȳ_i − ȳ)/s(ȳ), unweighted.

    Indicator values: h = (p − 1)·t/√(p·(t² + p − 2)), t the two-sided α point on p − 2 df. They are
    those of one laboratory: among p sound laboratories p·α exceed them on average.

    `cell_means`: one for each of p ≥ 3 laboratories at one level. Raises ValueError for fewer or
    when all means are equal.

    Source: ISO 5725-2:1994, 7.3.1 and Table 6 (from memory).

    >>> found = mandel_h([1.0, 1.1, 0.9, 1.0, 1.05, 0.95, 1.02, 1.3])
    >>> round(found.values[-1], 3), round(found.critical_5, 2), round(found.critical_1, 2)
    (2.148, 1.75, 2.06)
    """
    means = vector(cell_means, "cell mean", at_least=3)
    p, (mean, squares) = means.size, squared_deviations(means)
    if squares <= p * (ROUNDING * mean) ** 2:
        raise ValueError("all cell means are equal: h is not defined")
    h = (means - mean) / math.sqrt(squares / (p - 1))
    five, one = (_h_critical(p, alpha) for alpha in (0.05, 0.01))
    return Mandel(tuple(h.tolist()), five, one)


def mandel_k(cell_sds: ArrayLike, n: int) -> Mandel:
    """Consistency within laboratories: k_i = s_i·√p/√Σs².

    Indicator values: k = √(p/(1 + (p − 1)/F)), F the upper α point on n − 1 and (p − 1)(n − 1) df;
    those of one laboratory, as for h.

    `cell_sds`: one for each of p ≥ 2 laboratories with `n` results each (the most frequent number
    where they differ). Raises ValueError for fewer, n < 2, a negative value, or all 0.

    Source: ISO 5725-2:1994, 7.3.1 and Table 7 (from memory).

    >>> found = mandel_k([0.1, 0.12, 0.09, 0.11, 0.1, 0.1, 0.12, 0.3], 3)
    >>> round(found.values[-1], 2), round(found.critical_5, 2), round(found.critical_1, 2)
    (2.06, 1.67, 1.96)
    """
    sds = vector(cell_sds, "cell standard deviation", at_least=2)
    size = whole_number(n, "the number of results in a cell", at_least=2)
    if np.any(sds < 0):
        raise ValueError("a standard deviation cannot be negative")
    squares = math.fsum((sds**2).tolist())
    if squares <= 0:
        raise ValueError("all cell standard deviations are 0: k is not defined")
    five, one = (_k_critical(sds.size, size, alpha) for alpha in (0.05, 0.01))
    return Mandel(tuple((sds * math.sqrt(sds.size / squares)).tolist()), five, one)


def _h_critical(p: int, alpha: float) -> float:
    t = t_quantile(1 - alpha / 2, p - 2)
    return (p - 1) * t / math.sqrt(p * (t * t + p - 2))


def _k_critical(p: int, n: int, alpha: float) -> float:
    f = float(special.fdtri(n - 1, (p - 1) * (n - 1), 1 - alpha))
    return math.sqrt(p / (1 + (p - 1) / f))
