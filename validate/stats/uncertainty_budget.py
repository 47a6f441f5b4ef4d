"""Measurement uncertainty from within-laboratory precision and bias (top-down).

All standard uncertainties of one budget are in one unit: that of the results, or per cent
of the level. The precision is that of the laboratory over days, analysts, calibrations and
lots (s_Rw), never the repeatability: it already holds the repeatability, which is not added again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from numpy.typing import ArrayLike

from validate.stats._input import number, vector, whole_number
from validate.stats._sums import total
from validate.stats.intervals import Term, number_of_freedom, satterthwaite_df, t_quantile

CUSTOMARY_K = 2.0
"""Coverage factor for about 95 % when the degrees of freedom are many."""


@dataclass(frozen=True)
class Component:
    """One standard uncertainty of the budget; `share` is its part of u², `df` infinite when taken as known."""

    name: str
    u: float
    df: float
    share: float


@dataclass(frozen=True)
class Budget:
    """`u` combined, `df` its (unrounded) degrees of freedom, `U` = k·u.

    `u_bias` is what the bias adds, all its components together; `bias` the mean bias found.
    `corrected`: results are to be corrected, so the bias itself is no component.
    """

    u: float
    U: float
    k: float
    df: float
    u_bias: float
    bias: float
    components: tuple[Component, ...]
    corrected: bool
    kind: str


@dataclass(frozen=True)
class Expanded:
    """U = k·u; `df` the whole number used for k, None when k was given; `kind` says how k was found."""

    u: float
    k: float
    U: float
    df: int | None
    kind: str


def expanded(u: float, *, k: float | None = None, df: float | None = None) -> Expanded:
    """Expanded uncertainty U = k·u for about 95 % coverage.

    `k` alone: that factor; `df` alone: k = t(0.975; df rounded down), infinite df gives
    1.96; neither: k = 2. Below 4 df the `kind` reads 't, few df'.

    Raises ValueError for both k and df, k ≤ 0, u < 0, df below 1 (no t interval exists).

    Source: GUM (JCGM 100:2008) G.6.4 and its table G.2.

    >>> expanded(0.5).U, round(expanded(0.5, df=9.8).k, 3), expanded(0.5, df=3.2).kind
    (1.0, 2.262, 't, few df')
    """
    standard = number(u, "u", not_below=0)
    if k is not None and df is not None:
        raise ValueError("k and df were both given: one of them decides the coverage factor")
    if df is None:
        factor = CUSTOMARY_K if k is None else number(k, "k", above=0)
        return Expanded(standard, factor, factor * standard, None, f"k = {factor:g}")
    freedom = number_of_freedom(df)
    if freedom < 1:
        raise ValueError(f"{freedom:.3g} degrees of freedom found, at least 1 needed for a coverage factor")
    if math.isinf(freedom):
        factor = t_quantile(0.975, math.inf)
        return Expanded(standard, factor, factor * standard, None, "normal")
    whole = math.floor(freedom + 1e-9)
    factor = t_quantile(0.975, whole)
    return Expanded(standard, factor, factor * standard, whole, "t" if whole >= 4 else "t, few df")


def top_down(
    s_rw: float,
    *,
    bias: float,
    s_bias: float,
    n_bias: int,
    u_reference: float,
    df_rw: float = math.inf,
    k: float | None = CUSTOMARY_K,
) -> Budget:
    """Uncertainty from s_Rw and the bias at one material, bias not corrected.

        u_bias² = bias² + s_bias²/n + u_ref²,   u² = s_Rw² + u_bias²,   U = k·u

    `bias`: mean difference from the reference (sign without effect); `s_bias` the standard
    deviation of the `n_bias` results (means of occasions) behind it; `u_reference` standard
    uncertainty of the reference value. df by Welch-Satterthwaite: `df_rw`, n − 1, infinite
    for bias and reference. `k=None` takes k from df.

    Raises ValueError for a negative s or u, n_bias < 1 (< 2 with s_bias above 0), and as `expanded`.

    Source: V. J. Barwick, S. L. R. Ellison, VAM Project 3.2.1 part (d) (2000); Nordtest
    report TR 537 section 5 (both from memory).

    >>> found = top_down(3.0, bias=2.0, s_bias=3.0, n_bias=9, u_reference=1.0)
    >>> round(found.u_bias, 4), round(found.u, 4), round(found.U, 4)
    (2.4495, 3.873, 7.746)
    """
    mean = number(bias, "the bias")
    return _budget(
        s_rw,
        df_rw,
        (
            ("bias", abs(mean), math.inf),
            ("mean of the bias results", _of_mean(s_bias, n_bias), max(1, n_bias - 1)),
            ("reference value", number(u_reference, "u_reference", not_below=0), math.inf),
        ),
        bias=mean,
        corrected=False,
        k=k,
    )


def top_down_several(
    s_rw: float,
    *,
    biases: ArrayLike,
    u_references: ArrayLike,
    df_rw: float = math.inf,
    k: float | None = CUSTOMARY_K,
) -> Budget:
    """Uncertainty from s_Rw and the biases at several materials or rounds, bias not corrected.

        u_bias² = RMS² + mean of u_ref²,   RMS² = Σ bias_i²/q,   u² = s_Rw² + u_bias²

    The root mean square holds the scatter of the biases already: nothing is added for it.
    `biases`, `u_references`: one for each of q ≥ 2 materials. RMS² counts with q df.
    `bias` of the result is the mean bias.

    Raises ValueError for fewer than 2 materials, lengths that differ, a negative u, and as `expanded`.

    Source: Nordtest report TR 537 section 5 (from memory; there the mean of u_ref is
    squared, here u_ref² is averaged, which is never smaller).

    >>> found = top_down_several(3.0, biases=[2.0, -1.0, 2.0], u_references=[1.0, 1.0, 1.0])
    >>> round(found.u_bias, 4), round(found.u, 4)
    (2.0, 3.6056)
    """
    found, references = vector(biases, "bias", at_least=2), vector(u_references, "u_reference")
    if len(found) != len(references):
        raise ValueError(f"{len(found)} biases and {len(references)} u_references found; one each is needed")
    if (references < 0).any():
        raise ValueError(f"u_reference must not be below 0, found {float(references.min())!r}")
    q = len(found)
    return _budget(
        s_rw,
        df_rw,
        (
            ("root mean square of the biases", math.sqrt(total(found * found) / q), q),
            ("reference values", math.sqrt(total(references * references) / q), math.inf),
        ),
        bias=total(found) / q,
        corrected=False,
        k=k,
    )


def top_down_corrected(
    s_rw_percent: float,
    *,
    recovery: float,
    s_recovery: float,
    n_recovery: int,
    u_reference: float,
    df_rw: float = math.inf,
    k: float | None = CUSTOMARY_K,
) -> Budget:
    """Relative uncertainty of results that are divided by the mean recovery R.

        u² = s_Rw² + (100·u(R)/R)²,   u(R)² = s_R²/n + u_ref²

    `recovery`, `s_recovery` and `u_reference` (of the added amount or certified value, as
    per cent of it) in per cent, and the result in per cent of the corrected value. A
    correction takes the bias away and adds its uncertainty; s_Rw in per cent is that of the
    results before correction, which the division does not change.

    Raises ValueError for a recovery that is not above 0, a negative s or u, n_recovery < 1
    (< 2 with s_recovery above 0), and as `expanded`.

    Source: EURACHEM/CITAC Guide CG 4 (2012) 7.16 (from memory).

    >>> found = top_down_corrected(8.0, recovery=80.0, s_recovery=6.0, n_recovery=9, u_reference=1.0)
    >>> round(found.u_bias, 4), round(found.u, 4)
    (2.7951, 8.4742)
    """
    mean = number(recovery, "the recovery", above=0)
    return _budget(
        s_rw_percent,
        df_rw,
        (
            ("mean recovery", 100 * _of_mean(s_recovery, n_recovery) / mean, max(1, n_recovery - 1)),
            ("reference value", 100 * number(u_reference, "u_reference", not_below=0) / mean, math.inf),
        ),
        bias=mean - 100,
        corrected=True,
        k=k,
    )


def _budget(
    s_rw: float,
    df_rw: float,
    parts: Sequence[tuple[str, float, float]],
    *,
    bias: float,
    corrected: bool,
    k: float | None,
) -> Budget:
    spread = number(s_rw, "s_rw", not_below=0)
    rows = [("within-laboratory reproducibility", spread, number_of_freedom(df_rw)), *parts]
    square = math.fsum(u * u for _, u, _ in rows)
    df = satterthwaite_df([Term(u * u, freedom) for _, u, freedom in rows]) if square > 0 else math.inf
    u = math.sqrt(square)
    whole = expanded(u, df=df) if k is None else expanded(u, k=k)
    return Budget(
        u=u,
        U=whole.U,
        k=whole.k,
        df=df,
        u_bias=math.sqrt(math.fsum(part * part for _, part, _ in parts)),
        bias=bias,
        components=tuple(Component(name, v, freedom, v * v / square if square else 0.0) for name, v, freedom in rows),
        corrected=corrected,
        kind=whole.kind,
    )


def _of_mean(s: float, n: int) -> float:
    """s/√n, checked."""
    spread = number(s, "the standard deviation of the bias results", not_below=0)
    results = whole_number(n, "the number of results behind a scatter", at_least=1 if spread == 0 else 2)
    return spread / math.sqrt(results)
