"""How many, and what a verdict is worth: sample sizes and the chance to pass.

Sizes are the smallest that reach the power with certainty `1 − alpha` at each end of the
interval. For K comparisons that must all pass plan each with power 1 − (1 − power)/K.
Linearity and detection: `design_calibration`; the text of the two on lots: `design_lots`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from validate.stats._input import number
from validate.stats._passing import (
    LARGEST,
    Size,
    checked_terms,
    given,
    mean_inside,
    mean_interval_inside,
    smallest,
    spread_at_most,
    spread_limit_at_most,
)
from validate.stats.design_lots import pairs_for_equivalence, pairs_for_shift

__all__ = [
    "LARGEST",
    "Size",
    "days_for_intermediate",
    "pairs_for_equivalence",
    "pairs_for_shift",
    "pass_probability",
    "replicates_for_recovery",
    "replicates_for_rsd",
]

By = Literal["estimate", "interval"]
Kind = Literal["scaled_chi", "scaled_chi_sum", "mean"]


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
        error = number(given(se, "se"), "se", not_below=0)
        if by == "estimate":
            return mean_inside(number(truth, "the true value"), below, above, error)
        freedom = number(given(df, "df"), "df", above=0)
        return mean_interval_inside(number(truth, "the true value"), below, above, error, freedom, alpha)
    if kind == "scaled_chi":
        shares, dfs = (1.0,), (given(df, "df"),)
    elif kind != "scaled_chi_sum":
        raise ValueError(f"unknown kind {kind!r}; one of scaled_chi, scaled_chi_sum, mean is needed")
    terms = checked_terms(shares, dfs)
    sigma = number(truth, "the true value", above=0)
    if by == "estimate":
        below_low = 0.0 if below <= 0 else spread_at_most(below / sigma, terms, floors)
        return max(0.0, (1.0 if high is None else spread_at_most(above / sigma, terms, floors)) - below_low)
    if high is None or low is not None:
        raise ValueError("by='interval' takes an upper bound only for a spread")
    return spread_limit_at_most(above / sigma, terms, alpha)


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
        return mean_interval_inside(0.0, -math.inf, gap, spread / math.sqrt(n), n - 1, alpha)

    n = smallest(reached, power, 2)
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
        return spread_limit_at_most(bound, [(1.0, n - groups)], alpha)

    n = smallest(reached, power, groups + 1)
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
        terms = checked_terms((means, within), (days - 1, days * (replicates - 1)))
        return spread_limit_at_most(bound, terms, alpha)

    days = smallest(reached, power, 2)
    return Size(days, reached(days), days - 1)
