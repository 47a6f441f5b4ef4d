"""Limits of a mean, of a standard deviation, and of a sum of variance components.

Limits of sums of mean squares come from `variance_sums`, which works on variances; here
their roots are given, for standard deviations.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from scipy import special

from validate.stats import variance_sums
from validate.stats._input import confidence, number
from validate.stats.variance_sums import VarianceLimits, difference_limits, sum_limits


@dataclass(frozen=True)
class Limits:
    """Two-sided confidence limits; `method` names how they were found.

    `rests_on` holds the numbers that they were made from, by name, for whoever redoes them:
    `u, df, t` (t), `df, chi2_high, chi2_low` (chi-square), and for each part of a sum
    `part_1, df_1, g_1, h_1` (MLS). Empty where a method has no such short sum.
    """

    low: float
    high: float
    level: float
    method: str
    rests_on: tuple[tuple[str, float], ...] = field(default=(), repr=False, compare=False)


class Term(NamedTuple):
    """One independent mean square times its coefficient in a sum, with its degrees of freedom."""

    value: float
    df: float


def t_quantile(probability: float, df: float) -> float:
    """Quantile of Student's t; `df` need not be whole and may be infinite."""
    if math.isinf(df):
        return float(special.ndtri(probability))
    return float(special.stdtrit(df, probability))


def t_probability(t: float, df: float) -> float:
    """Distribution function of Student's t; `df` need not be whole and may be infinite."""
    return float(special.ndtr(t) if math.isinf(df) else special.stdtr(df, t))


def noncentral_t_quantile(probability: float, df: float, shift: float) -> float:
    """Quantile of noncentral t, (Z + shift)/√(χ²/df); `df` need not be whole.

    >>> round(noncentral_t_quantile(0.95, 9, 1.959963985 * 10**0.5) / 10**0.5, 4)
    3.4025
    """
    if shift < 0:
        return -noncentral_t_quantile(1 - probability, df, -shift)
    return float(special.nctdtrit(df, shift, probability))


def chi2_quantile(probability: float, df: float) -> float:
    """Quantile of chi-square; `df` need not be whole."""
    return float(2 * special.gammaincinv(df / 2, probability))


def t_limits(estimate: float, u: float, df: float, level: float) -> Limits:
    """Limits of a mean: estimate ± t(1 − α/2, df) · u.

    `u` is the standard error of the estimate in its own unit, `df` may be fractional or
    infinite.

    >>> t_limits(10.0, 0.5, 5, 0.95).high - 10
    1.2852909...
    """
    t = t_quantile((1 + confidence(level)) / 2, number_of_freedom(df))
    half = t * number(u, "u", not_below=0)
    return Limits(estimate - half, estimate + half, level, "t", (("u", u), ("df", df), ("t", t)))


def sd_limits(s: float, df: float, level: float) -> Limits:
    """Limits of a standard deviation: s · √(df / χ²(1 − α/2, df)) to s · √(df / χ²(α/2, df)).

    Assumes normal scatter. The upper limit at level 0.90 is the one-sided 95 % limit.

    >>> round(sd_limits(1.0, 9, 0.90).high, 3)
    1.645
    """
    s, df, level = number(s, "s", not_below=0), number_of_freedom(df), confidence(level)
    above, below = chi2_quantile((1 + level) / 2, df), chi2_quantile((1 - level) / 2, df)
    rests_on = (("df", df), ("chi2_high", above), ("chi2_low", below))
    return Limits(s * math.sqrt(df / above), s * math.sqrt(df / below), level, "chi-square", rests_on)


def mls_limits(terms: Sequence[Term], level: float) -> Limits:
    """Modified large sample limits of √(Σ terms): the roots of `variance_sums.sum_limits`.

    In closed form, and on the safe side above: coverage 94.9 to 96.5 % for 95 % in the
    designs of a laboratory.
    """
    values, dfs = [value for value, _ in terms], [df for _, df in terms]
    found = sum_limits(values, dfs, level=level)
    factors = variance_sums.limit_factors(dfs, level=level)
    rests_on = tuple(
        pair
        for i, (value, df, (g, h)) in enumerate(zip(values, dfs, factors, strict=True), start=1)
        for pair in ((f"part_{i}", value), (f"df_{i}", df), (f"g_{i}", g), (f"h_{i}", h))
    )
    return _rooted(found, "chi-square" if len(terms) == 1 else "MLS (Graybill-Wang)", rests_on)


def satterthwaite_df(terms: Sequence[Term]) -> float:
    """Degrees of freedom of a sum of mean squares: (Σ v_i)² / Σ(v_i²/ν_i).

    When every term is zero, the sum of their degrees of freedom; infinite when only terms
    with infinite degrees of freedom are left.

    >>> round(satterthwaite_df([Term(0.3865 / 2, 4), Term(0.0510 / 2, 5)]), 4)
    5.0549
    """
    theta = sum(value for value, _ in terms)
    if theta == 0:
        return float(sum(df for _, df in terms))
    inverse = sum((value / theta) ** 2 / df for value, df in terms)
    return 1 / inverse if inverse > 0 else math.inf


def satterthwaite_limits(terms: Sequence[Term], level: float) -> Limits:
    """Chi-square limits of √(Σ terms) on Satterthwaite's degrees of freedom.

    The upper limit is missed too often (up to 9 % instead of 2.5 % with three groups of
    three): for comparison, and for a cautious lower limit only.
    """
    values, dfs = [v for v, _ in terms], [df for _, df in terms]
    return _rooted(variance_sums.satterthwaite_limits(values, dfs, level=level), "Satterthwaite")


def component_limits(first: float, df_first: float, second: float, df_second: float, level: float) -> Limits:
    """Limits of √max(0, first − second), one component of variance; informative, the lower may be 0."""
    found = difference_limits(first, df_first, second, df_second, level=level)
    return _rooted(found, "MLS (Ting et al.)", found.rests_on)


def _rooted(variance: VarianceLimits, method: str, rests_on: tuple[tuple[str, float], ...] = ()) -> Limits:
    """Limits of a standard deviation from those of its square."""
    return Limits(math.sqrt(variance.low), math.sqrt(variance.high), variance.level, method, rests_on)


def number_of_freedom(df: float) -> float:
    """`df` checked: above 0; infinite is allowed."""
    if isinstance(df, (int, float)) and math.isinf(df) and df > 0:
        return math.inf
    return number(df, "df", above=0)
