"""Probabilities of sums of independent chi-square variables, by one-dimensional quadrature."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache

import numpy as np
from scipy import special

from validate.stats._input import Floats

NODES = 160
NEGLIGIBLE = 1e-15


@lru_cache(maxsize=1)
def nodes() -> tuple[Floats, Floats]:
    """Gauss-Legendre nodes and weights on (0, 1)."""
    x, w = np.polynomial.legendre.leggauss(NODES)
    return (x + 1) / 2, w / 2


def expectation_over_chi2(function: Callable[[Floats], Floats], df: float, low: float, high: float) -> float:
    """E[function(X); low < X < high] for X chi-square with `df`; `function` takes an array.

    X = low + (high − low)·sin²φ: square-root behaviour at either end, as chi-square with
    one degree of freedom has it, becomes smooth.
    """
    low = max(low, 2 * float(special.gammaincinv(df / 2, NEGLIGIBLE)))
    high = min(high, 2 * float(special.gammainccinv(df / 2, NEGLIGIBLE)))
    if high <= low:
        return 0.0
    u, weight = nodes()
    phi = math.pi / 2 * u
    x = low + (high - low) * np.sin(phi) ** 2
    slope = math.pi / 2 * (high - low) * np.sin(2 * phi)
    log_density = (df / 2 - 1) * np.log(x / 2) - x / 2 - special.gammaln(df / 2) - math.log(2)
    return float(np.sum(weight * slope * np.exp(log_density) * function(x)))


def sum_probability(bound: float, scales: Sequence[float], dfs: Sequence[float]) -> float:
    """P(Σ scale_i·χ²(df_i) ≤ bound), scales > 0; two terms by conditioning, more by Imhof's integral."""
    if bound <= 0:
        return 0.0
    if len(scales) == 1:
        return float(special.gammainc(dfs[0] / 2, bound / scales[0] / 2))
    if len(scales) == 2:
        return sum_of_two_probability(bound, scales, dfs, bound)
    return _imhof(bound, np.asarray(scales, dtype=float), np.asarray(dfs, dtype=float))


def sum_of_two_probability(bound: float, scales: Sequence[float], dfs: Sequence[float], largest: float) -> float:
    """P(a + b ≤ bound and b ≤ largest) for the two scaled chi-squares a and b."""
    (scale_a, scale_b), (df_a, df_b) = scales, dfs

    def rest(x: Floats) -> Floats:
        return special.gammainc(df_a / 2, np.maximum(0.0, bound - scale_b * x) / scale_a / 2)

    return min(1.0, expectation_over_chi2(rest, df_b, 0.0, min(bound, largest) / scale_b))


def _imhof(bound: float, scales: Floats, dfs: Floats) -> float:
    """P(Σ ≤ bound) by inversion of the characteristic function.

    Source: J. P. Imhof, Biometrika 48 (1961) 419-426 (from memory).
    """
    from scipy.integrate import quad

    scales = scales / bound

    def integrand(u: float) -> float:
        angle = float(np.sum(dfs * np.arctan(scales * u)) - u) / 2
        return math.sin(angle) / (u * math.exp(float(np.sum(dfs * np.log1p((scales * u) ** 2))) / 4))

    area, _ = quad(integrand, 0, np.inf, limit=2000, epsabs=1e-10)
    return min(1.0, max(0.0, 0.5 - area / math.pi))
