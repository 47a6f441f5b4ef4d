"""Chances that an estimate or its interval lies inside a bound, and the search for a size; see `design`."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from validate.stats._input import Floats, number
from validate.stats._quadrature import expectation_over_chi2, sum_probability, truncated_sum_probability
from validate.stats.intervals import chi2_quantile, t_quantile

LARGEST = 100_000


@dataclass(frozen=True)
class Size:
    """The smallest `n` (results, pairs or days, as the function says) and the power that it reaches."""

    n: int
    power: float
    df: int


Terms = Sequence[tuple[float, float]]


def given(value: float | None, what: str) -> float:
    if value is None:
        raise ValueError(f"{what} is missing")
    return value


def checked_terms(shares: Sequence[float], dfs: Sequence[float]) -> Terms:
    """(share, df) of the terms that count, shares adding up to 1."""
    if not shares or len(shares) != len(dfs) or min(shares) < 0 or max(shares) <= 0 or min(dfs) <= 0:
        raise ValueError("a share (not negative) and a df (above 0) for each term are needed")
    return [(share / math.fsum(shares), df) for share, df in zip(shares, dfs, strict=True) if share > 0]


def mean_inside(truth: float, below: float, above: float, se: float) -> float:
    if se == 0:
        return float(below <= truth <= above)
    return float(special.ndtr((above - truth) / se) - special.ndtr((below - truth) / se))


def mean_interval_inside(truth: float, below: float, above: float, se: float, df: float, alpha: float) -> float:
    """P(below ≤ mean − t·s and mean + t·s ≤ above), s² = se²·χ²(df)/df."""
    if se == 0:
        return float(below <= truth <= above)
    t, low, high = t_quantile(1 - alpha, df), (below - truth) / se, (above - truth) / se

    def inside(x: Floats) -> Floats:
        half = t * np.sqrt(x / df)
        return np.maximum(0.0, special.ndtr(high - half) - special.ndtr(low + half))

    return expectation_over_chi2(inside, df, 0.0, df * ((high - low) / (2 * t)) ** 2)


def spread_at_most(ratio: float, terms: Terms, floors: Sequence[float] = ()) -> float:
    """P(estimate ≤ ratio · truth)."""
    scales, dfs = [share / df for share, df in terms], [df for _, df in terms]
    if not floors:
        return sum_probability(ratio**2, scales, dfs)
    if len(terms) not in (2, 3) or len(floors) != len(terms) - 1:
        raise ValueError(
            f"{len(floors)} floors do not fit {len(terms)} terms with a share: two or three terms are needed"
        )
    known = [number(floor, "a floor", not_below=1) for floor in floors]
    return truncated_sum_probability(ratio**2, scales, dfs, known)


def spread_limit_at_most(ratio: float, terms: Terms, alpha: float) -> float:
    """P(one-sided upper limit ≤ ratio · truth): chi-square for one term, MLS for two."""
    if len(terms) == 1:
        ((_, df),) = terms
        return spread_at_most(ratio * math.sqrt(chi2_quantile(alpha, df) / df), terms)
    if len(terms) != 2:
        raise ValueError(f"{len(terms)} terms found, an interval can be foreseen for at most 2")
    (share_a, df_a), (share_b, df_b) = terms
    h_a, h_b = (df / chi2_quantile(alpha, df) - 1 for df in (df_a, df_b))
    scale_a, scale_b, square = share_a / df_a, share_b / df_b, ratio**2

    def first_term_low_enough(x: Floats) -> Floats:
        """P(a ≤ the root of a + b + √(h_a²a² + h_b²b²) = square), given b."""
        b = scale_b * x
        rest = square - b
        over = np.maximum(0.0, rest**2 - (h_b * b) ** 2)
        root = over / (rest + np.sqrt(np.maximum(0.0, rest**2 - (1 - h_a**2) * over)))
        return special.gammainc(df_a / 2, root / scale_a / 2)

    return expectation_over_chi2(first_term_low_enough, df_b, 0.0, square / (1 + h_b) / scale_b)


def smallest(reached: Callable[[int], float], power: float, start: int) -> int:
    """The smallest n from `start` on with `reached(n) ≥ power`; `reached` grows with n."""
    if not 0 < number(power, "the power") < 1:
        raise ValueError(f"the power must lie between 0 and 1, found {power!r}")
    low, high = start - 1, start
    while reached(high) < power:
        low, high = high, 2 * high
        if high > LARGEST:
            raise ValueError(f"more than {LARGEST} would be needed: the limit is too near")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if reached(middle) >= power else (middle, high)
    return high
