"""How many, and what a verdict is worth: sample sizes and the chance to pass.

Sizes are the smallest that reach the power with certainty `1 − alpha` at each end of the
interval. For K comparisons that must all pass plan each with power 1 − (1 − power)/K.
Linearity and detection: `design_calibration`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import special

from validate.stats._input import Floats, number
from validate.stats._quadrature import expectation_over_chi2, sum_probability, truncated_sum_probability
from validate.stats.intervals import chi2_quantile, t_quantile

LARGEST = 100_000
By = Literal["estimate", "interval"]
Kind = Literal["scaled_chi", "scaled_chi_sum", "mean"]


@dataclass(frozen=True)
class Size:
    """The smallest `n` (results or days, as the function says) and the power that it reaches."""

    n: int
    power: float
    df: int


def pass_probability(
    truth: float,
    *,
    kind: Kind,
    low: float | None = None,
    high: float | None = None,
    df: float | None = None,
    se: float | None = None,
    shares: Sequence[float] = (),
    dfs: Sequence[float] = (),
    floors: Sequence[float] = (),
    by: By = "estimate",
    alpha: float = 0.05,
) -> float:
    """Chance that a method with the true value `truth` meets low ≤ finding ≤ high.

    | kind | law of the estimate | arguments |
    |---|---|---|
    | `scaled_chi` | truth · √(χ²(df)/df) | `df` |
    | `scaled_chi_sum` | truth · √(Σ share_i·χ²(df_i)/df_i) | `shares` (made to add up to 1), `dfs`, `floors` |
    | `mean` | normal with mean `truth` and standard deviation `se` | `se`; `df` for `by="interval"` |

    `by="estimate"`: the estimate lies inside the bounds (inclusive). `by="interval"`: the
    two-sided interval at 1 − 2·alpha does: chi-square or MLS (two terms) for a spread, which
    can only have an upper bound then; t for a mean, whose standard error scatters about
    `se` with `df`. An end that is None is open.

    `floors` (two or three terms, outermost first): a negative component of variance counts
    as 0. One number for each term after the first: the mean square from the inside over
    the term. One-way, n results per group: (1/(1 − 1/n),), because s_intermediate² is not
    below MS_within; nested with b inner groups per outer one: (1/(1 − 1/b), 1/(1 − 1/n)).
    Without them the law is that of the untruncated
    estimate, which passes too often when little varies between groups (5 days × 2, nothing
    between days, truth at 0.75 of the bound: 0.93 instead of 0.85).

    Raises ValueError for a truth or bound that the law does not allow, both ends open, a
    missing argument, floors that are below 1 or do not fit two or three terms, or an
    interval that is not one of the above.

    >>> [round(pass_probability(f * 20, kind="scaled_chi", high=20, df=5), 2) for f in (0.75, 1, 1.25)]
    [0.89, 0.58, 0.33]
    >>> round(pass_probability(20, kind="scaled_chi", high=20, df=5, by="interval"), 3)
    0.05
    """
    if low is None and high is None:
        raise ValueError("at least one bound is needed")
    if by not in ("estimate", "interval"):
        raise ValueError(f"by must be 'estimate' or 'interval', found {by!r}")
    below = -math.inf if low is None else number(low, "the lower bound")
    above = math.inf if high is None else number(high, "the upper bound")
    if kind == "mean":
        error = number(_given(se, "se"), "se", not_below=0)
        if by == "estimate":
            return _mean_inside(number(truth, "the true value"), below, above, error)
        freedom = number(_given(df, "df"), "df", above=0)
        return _mean_interval_inside(number(truth, "the true value"), below, above, error, freedom, alpha)
    if kind == "scaled_chi":
        shares, dfs = (1.0,), (_given(df, "df"),)
    elif kind != "scaled_chi_sum":
        raise ValueError(f"unknown kind {kind!r}; one of scaled_chi, scaled_chi_sum, mean is needed")
    terms = _terms(shares, dfs)
    sigma = number(truth, "the true value", above=0)
    if by == "estimate":
        below_low = 0.0 if below <= 0 else _spread_at_most(below / sigma, terms, floors)
        return max(0.0, (1.0 if high is None else _spread_at_most(above / sigma, terms, floors)) - below_low)
    if high is None or low is not None:
        raise ValueError("by='interval' takes an upper bound only for a spread")
    return _spread_limit_at_most(above / sigma, terms, alpha)


def replicates_for_recovery(distance: float, s: float, *, power: float = 0.8, alpha: float = 0.05) -> Size:
    """Results that show a mean recovery to be inside its range, by the interval rule.

    `distance`: from the true mean to the nearer limit; `s`: standard deviation of a single
    recovery; same unit. Power = P(T′(n − 1; distance·√n/s) > t(1 − alpha, n − 1)), T′
    noncentral t. For grouped data s = √(s_day² + s_r²/n_rep), and `n` counts days.

    Raises ValueError for a distance or s that is not above 0, or more than 100,000 results.

    >>> replicates_for_recovery(10, 10).n, replicates_for_recovery(10, 10, power=0.9).n
    (8, 11)
    """
    gap, spread = number(distance, "the distance", above=0), number(s, "s", above=0)

    def reached(n: int) -> float:
        return _mean_interval_inside(0.0, -math.inf, gap, spread / math.sqrt(n), n - 1, alpha)

    n = _smallest(reached, power, 2)
    return Size(n, reached(n), n - 1)


def replicates_for_rsd(ratio: float, *, groups: int = 1, power: float = 0.8, alpha: float = 0.05) -> Size:
    """Results that show a relative standard deviation to be at most its limit, by the interval rule.

    `ratio` = limit / true RSD. Smallest ν = n − groups with
    χ²(power, ν)/χ²(alpha, ν) ≤ ratio²; `groups` cells share the pooled spread. For HorRat
    the ratio is 2 / expected HorRat.

    Raises ValueError for a ratio that is not above 1, or more than 100,000 results.

    >>> replicates_for_rsd(2).n, replicates_for_rsd(2, power=0.9).n
    (10, 12)
    """
    bound = number(ratio, "the ratio of limit to true value", above=1)

    def reached(n: int) -> float:
        return _spread_limit_at_most(bound, [(1.0, n - groups)], alpha)

    n = _smallest(reached, power, groups + 1)
    return Size(n, reached(n), n - groups)


def days_for_intermediate(
    ratio: float, *, replicates: int = 2, gamma: float = 1.0, power: float = 0.8, alpha: float = 0.05
) -> Size:
    """Days that show s_intermediate to be at most its limit by the upper MLS limit.

    `ratio` = limit / true s_intermediate; `replicates` ≥ 2 results a day;
    `gamma` = σ_between²/σ_r². Exact by quadrature over MS_within. `df` of the result is
    days − 1. Days count, replicates hardly do.

    Raises ValueError for a ratio that is not above 1, fewer than 2 replicates, gamma < 0,
    or more than 100,000 days.

    >>> days_for_intermediate(2.0).n
    8
    """
    bound = number(ratio, "the ratio of limit to true value", above=1)
    between = number(gamma, "gamma", not_below=0)
    if replicates < 2:
        raise ValueError(f"{replicates} results a day found, at least 2 needed")

    def reached(days: int) -> float:
        means, within = between + 1 / replicates, 1 - 1 / replicates
        terms = _terms((means, within), (days - 1, days * (replicates - 1)))
        return _spread_limit_at_most(bound, terms, alpha)

    days = _smallest(reached, power, 2)
    return Size(days, reached(days), days - 1)


Terms = Sequence[tuple[float, float]]


def _given(value: float | None, what: str) -> float:
    if value is None:
        raise ValueError(f"{what} is missing")
    return value


def _terms(shares: Sequence[float], dfs: Sequence[float]) -> Terms:
    """(share, df) of the terms that count, shares adding up to 1."""
    if not shares or len(shares) != len(dfs) or min(shares) < 0 or max(shares) <= 0 or min(dfs) <= 0:
        raise ValueError("a share (not negative) and a df (above 0) for each term are needed")
    return [(share / math.fsum(shares), df) for share, df in zip(shares, dfs, strict=True) if share > 0]


def _mean_inside(truth: float, below: float, above: float, se: float) -> float:
    if se == 0:
        return float(below <= truth <= above)
    return float(special.ndtr((above - truth) / se) - special.ndtr((below - truth) / se))


def _mean_interval_inside(truth: float, below: float, above: float, se: float, df: float, alpha: float) -> float:
    """P(below ≤ mean − t·s and mean + t·s ≤ above), s² = se²·χ²(df)/df."""
    if se == 0:
        return float(below <= truth <= above)
    t, low, high = t_quantile(1 - alpha, df), (below - truth) / se, (above - truth) / se

    def inside(x: Floats) -> Floats:
        half = t * np.sqrt(x / df)
        return np.maximum(0.0, special.ndtr(high - half) - special.ndtr(low + half))

    return expectation_over_chi2(inside, df, 0.0, df * ((high - low) / (2 * t)) ** 2)


def _spread_at_most(ratio: float, terms: Terms, floors: Sequence[float] = ()) -> float:
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


def _spread_limit_at_most(ratio: float, terms: Terms, alpha: float) -> float:
    """P(one-sided upper limit ≤ ratio · truth): chi-square for one term, MLS for two."""
    if len(terms) == 1:
        ((_, df),) = terms
        return _spread_at_most(ratio * math.sqrt(chi2_quantile(alpha, df) / df), terms)
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


def _smallest(reached: Callable[[int], float], power: float, start: int) -> int:
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
