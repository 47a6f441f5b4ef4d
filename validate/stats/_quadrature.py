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
PANEL_NODES = 16
PANELS_AT_ONCE = 2_000
MOST_PANELS = 20_000
LOST = 1e-10


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
        return truncated_sum_probability(bound, scales, dfs, (1.0,))
    return _imhof(bound, np.asarray(scales, dtype=float), np.asarray(dfs, dtype=float))


def truncated_sum_probability(
    bound: float, scales: Sequence[float], dfs: Sequence[float], floors: Sequence[float]
) -> float:
    """P(W₁ ≤ bound) for terms x_i = scale_i·χ²(df_i) of which no difference counts below 0.

    W_k = floor_k·x_k for the last of the two or three terms, before it
    W_i = W_(i+1) + max(0, floor_i·x_i − (floor_(i+1) − 1)·x_(i+1)); `floors` holds one number
    for each term after the first, whose own is 1. Without truncation W₁ is the sum.
    """
    df, scale, (floor, *inner_floors) = dfs[0], scales[0], floors

    def outer_fits(x: Floats, spent: Floats) -> Floats:
        """P(the first term is small enough), given the second one and W of the terms after the first."""
        return special.gammainc(df / 2, np.maximum(0.0, bound - spent + (floor - 1) * x) / scale / 2)

    def given_second(low: float, high: float, inside: float, least: float) -> float:
        """Over the second term, with W = max(least, floor·x + inside) ≤ bound."""
        return expectation_over_chi2(
            lambda x: outer_fits(scales[1] * x, np.maximum(least, floor * scales[1] * x + inside)),
            dfs[1], low / scales[1], high / scales[1],
        )  # fmt: skip

    if not inner_floors:
        return min(1.0, given_second(0.0, bound / floor, 0.0, 0.0))
    (last_floor,) = inner_floors

    def given_last(last: float) -> float:
        least = last_floor * last
        bend, end = (least - last) / floor, (bound - last) / floor
        return given_second(0.0, bend, last, least) + given_second(bend, end, last, least)

    over_last = expectation_over_chi2(
        lambda x: np.array([given_last(scales[2] * float(each)) for each in x]),
        dfs[2],
        0.0,
        bound / last_floor / scales[2],
    )
    return min(1.0, over_last)


def _imhof(bound: float, scales: Floats, dfs: Floats) -> float:
    """P(Σ ≤ bound) by inversion of the characteristic function, on panels of half a turn of the phase at most.

    Error below 1e-9; below 1e-5 where one term with 1 or 2 degrees of freedom holds nearly all.

    Source: J. P. Imhof, Biometrika 48 (1961) 419-426 (from memory).
    """
    scales = scales / bound
    rate = max(1.0, float(np.sum(scales * dfs)))
    width = math.pi / rate
    end = _where_negligible(scales, dfs, furthest=MOST_PANELS * width)
    x, weight = np.polynomial.legendre.leggauss(PANEL_NODES)
    starts = width * np.arange(math.ceil(end / width))
    area = 0.0
    for first in range(0, len(starts), PANELS_AT_ONCE):
        u = (starts[first : first + PANELS_AT_ONCE, None] + width / 2 * (x + 1)).ravel()
        turned = np.multiply.outer(u, scales)
        angle = (np.arctan(turned) @ dfs - u) / 2
        damping = np.exp(-np.log1p(turned**2) @ dfs / 4)
        area += float(np.sum((np.sin(angle) * damping / u).reshape(-1, PANEL_NODES) @ weight)) * width / 2
    return min(1.0, max(0.0, 0.5 - area / math.pi))


def _where_negligible(scales: Floats, dfs: Floats, *, furthest: float) -> float:
    """Where damping / u, and with it the alternating rest of Imhof's integral, is lost; at most `furthest`."""
    end = 1.0
    while end < furthest and math.log(end) + float(np.log1p((scales * end) ** 2) @ dfs) / 4 < -math.log(LOST):
        end *= 1.5
    return min(end, furthest)
