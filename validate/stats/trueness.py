"""Recovery of what was added, and bias against a reference value."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import Floats, count, number, vector
from validate.stats._sums import squared_deviations
from validate.stats.descriptive import mean_of_group_means
from validate.stats.intervals import Term, satterthwaite_df, t_limits

SPIKE_TOO_SMALL = "spike too small: the native content exceeds what was added"


@dataclass(frozen=True)
class Recovery:
    """Mean recovery in per cent with its standard uncertainty `u`, `df` and limits.

    `single` holds the recovery of each result. `u_found`, `u_native`, `u_added` are the
    three parts of `u`, in per cent; `u² = u_found² + u_native² + u_added²`. `n_groups` is
    None without groups.
    """

    percent: float
    single: tuple[float, ...]
    n: int
    n_groups: int | None
    native_mean: float
    u_found: float
    u_native: float
    u_added: float
    u: float
    df: float
    low: float
    high: float
    level: float
    notes: tuple[str, ...] = ()


def recovery(
    found: ArrayLike,
    added: ArrayLike,
    native: ArrayLike | None = None,
    *,
    u_added: float = 0,
    groups: Iterable[Hashable] | None = None,
    paired: bool = False,
    level: float = 0.95,
) -> Recovery:
    """Mean recovery: R = mean of R_i = 100·(found_i − native)/added_i, in per cent.

    u² = (100/added)²·(s²_found/n + s²_native/n_native) + R²·(u_added/added)², with
    Welch-Satterthwaite df (`u_added` taken as exactly known). With `groups` (one label
    per found result) s²_found/n becomes the variance of the group means over p, and R the
    unweighted mean of the group means.

    `found`: n results; `added`: one number or one per result, in the unit of `found`;
    `native`: None (nothing there), one number (taken as exactly known), or two and more
    results of the unspiked material. `paired=True`: one native value per found result,
    subtracted from it (with groups: the native mean of that day, repeated), so that its
    scatter is in the differences. `u_added`: standard uncertainty of the added amount,
    common to all results.

    A spiked recovery is not the trueness of extracting what grew in the material. The
    precision of the method is that of `found`, never that of the recoveries.

    Raises ValueError for n < 2, added ≤ 0, one native result in a list (its error is
    unknown), lengths that differ. A native content above the added one is told in `notes`.

    Source: error propagation, GUM (JCGM 100:2008) 5.1.2 and G.4.1.

    >>> r = recovery([4.6, 4.9, 4.4, 4.8, 4.7, 4.5], 5, u_added=0.05)
    >>> round(r.percent, 6), round(r.u, 4), round(r.df, 2)
    (93.0, 1.7884, 9.39)
    """
    result = vector(found, "found result", at_least=2)
    amount = _amounts(added, len(result))
    per_amount = 100 / amount
    share = result * per_amount
    native_mean, u_native, native_df = _native(native, len(result), paired)
    single = share - (native_mean if not paired else vector(native, "native result")) * per_amount  # type: ignore[arg-type]
    labels = None if groups is None else list(groups)
    percent, u_found, df_found, n_groups = _mean(single, labels)
    part_native = 0.0 if paired else _mean(per_amount, labels)[0] * u_native
    part_added = abs(_mean(single / amount, labels)[0]) * number(u_added, "u_added", not_below=0)
    terms = [Term(u_found**2, df_found), Term(part_native**2, native_df), Term(part_added**2, math.inf)]
    u = math.sqrt(sum(term.value for term in terms))
    df = satterthwaite_df(terms) if u > 0 else df_found
    limits = t_limits(percent, u, df, level)
    return Recovery(
        percent=percent,
        single=tuple(single.tolist()),
        n=len(result),
        n_groups=n_groups,
        native_mean=native_mean,
        u_found=u_found,
        u_native=part_native,
        u_added=part_added,
        u=u,
        df=df,
        low=limits.low,
        high=limits.high,
        level=level,
        notes=(SPIKE_TOO_SMALL,) if native_mean > float(np.mean(amount)) else (),
    )


@dataclass(frozen=True)
class Bias:
    """Mean minus reference, with `u`, `df` and limits; `t` and `p_value` (two-sided) against zero.

    `t` and `p_value` are None, with the reason in `reason`, when nothing scatters. A
    p-value above 0.05 is no proof of trueness: hold the interval against a range instead.
    """

    bias: float
    mean: float
    reference: float
    n: int
    n_groups: int | None
    u_mean: float
    u_reference: float
    u: float
    t: float | None
    df: float
    p_value: float | None
    low: float
    high: float
    level: float
    reason: str | None = None


def bias_test(
    values: ArrayLike,
    reference: float,
    *,
    u_reference: float = 0,
    df_reference: float | None = None,
    groups: Iterable[Hashable] | None = None,
    level: float = 0.95,
) -> Bias:
    """Bias against a reference value: b = mean − reference, u² = s²/n + u_ref².

    df = u⁴/((s²/n)²/(n − 1) + u_ref⁴/df_ref); without `df_reference` the last term is 0
    (u_ref taken as exactly known). t = b/u. With `groups` s²/n becomes the variance of the
    group means over p, n − 1 becomes p − 1, and the mean that of the group means.

    All in the unit of `values`. Raises ValueError for n < 2, p < 2, u_reference < 0.

    Source: GUM (JCGM 100:2008) G.4.1 for the degrees of freedom.

    >>> b = bias_test([10.2, 10.4, 9.9, 10.1, 10.3], 10.0, u_reference=0.05)
    >>> round(b.bias, 6), round(b.u, 5), round(b.df, 2), round(b.t, 3)
    (0.18, 0.0995, 7.16, 1.809)
    """
    x = vector(values, "result", at_least=2)
    target = number(reference, "the reference value")
    u_ref = number(u_reference, "u_reference", not_below=0)
    df_ref = math.inf if df_reference is None else number(df_reference, "df_reference", above=0)
    mean, u_mean, df_mean, n_groups = _mean(x, groups)
    terms = [Term(u_mean**2, df_mean), Term(u_ref**2, df_ref)]
    u = math.hypot(u_mean, u_ref)
    df = satterthwaite_df(terms) if u > 0 else df_mean
    bias = mean - target
    limits = t_limits(bias, u, df, level)
    t = bias / u if u > 0 else None
    return Bias(
        bias=bias,
        mean=mean,
        reference=target,
        n=len(x),
        n_groups=n_groups,
        u_mean=u_mean,
        u_reference=u_ref,
        u=u,
        t=t,
        df=df,
        p_value=None if t is None else _two_sided_p(t, df),
        low=limits.low,
        high=limits.high,
        level=level,
        reason="no scatter among the results and none in the reference: t is undefined" if t is None else None,
    )


def _amounts(added: ArrayLike, n: int) -> Floats:
    given = np.asarray(added, dtype=np.float64)
    amount = vector(np.full(n, float(given)) if given.ndim == 0 else given, "added amount")
    if len(amount) != n:
        raise ValueError(f"{count(len(amount), 'added amount')} found for {n} results; one, or one for each, needed")
    if np.any(amount <= 0):
        raise ValueError(f"an added amount must be above 0, found {float(np.min(amount))!r}")
    return amount


def _native(native: ArrayLike | None, n: int, paired: bool) -> tuple[float, float, float]:
    """Mean of the native results, its standard uncertainty and df."""
    if native is None:
        if paired:
            raise ValueError(f"paired needs one native value for each of the {n} results, none found")
        return 0.0, 0.0, math.inf
    if np.ndim(native) == 0:
        if paired:
            raise ValueError(f"paired needs one native value for each of the {n} results, one number found")
        return number(native, "the native content"), 0.0, math.inf  # type: ignore[arg-type]
    x = vector(native, "native result", at_least=1 if paired else 2)
    if paired and len(x) != n:
        raise ValueError(f"paired needs one native value for each of the {n} results, {len(x)} found")
    mean, squares = squared_deviations(x)
    u = 0.0 if len(x) == 1 else math.sqrt(squares / (len(x) - 1) / len(x))
    return mean, u, max(1, len(x) - 1)


def _mean(x: Floats, groups: Iterable[Hashable] | None) -> tuple[float, float, float, int | None]:
    """Mean, its standard uncertainty, df, and the number of groups (None without)."""
    if groups is not None:
        mean, u, p = mean_of_group_means(x, groups)
        return mean, u, p - 1, p
    mean, squares = squared_deviations(x)
    return mean, math.sqrt(squares / (len(x) - 1) / len(x)), len(x) - 1, None


def _two_sided_p(t: float, df: float) -> float:
    tail = special.ndtr(-abs(t)) if math.isinf(df) else special.stdtr(df, -abs(t))
    return float(2 * tail)
