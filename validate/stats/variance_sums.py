"""Limits of sums and differences of mean squares: the intervals of variance components.

A variance such as that of intermediate precision is a sum θ = Σ c_i·σ_i² of expected mean
squares, each estimated by an independent mean square S_i² on ν_i degrees of freedom.
Everything here takes the scaled mean squares c_i·S_i² ("parts") and their degrees of
freedom. Results are variances: take roots for standard deviations.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy import special


@dataclass(frozen=True)
class VarianceLimits:
    """Two-sided limits of a variance, in squared units; `df` is that of Satterthwaite's approximation."""

    estimate: float
    low: float
    high: float
    level: float
    df: float
    rests_on: tuple[tuple[str, float], ...] = field(default=(), repr=False, compare=False)
    """For `difference_limits`: a_i, ν_i, G_i, H_i and the cross terms G₁₂, H₁₂, by name, for whoever redoes them."""


def sum_limits(parts: Sequence[float], dfs: Sequence[float], *, level: float) -> VarianceLimits:
    """Modified large-sample (MLS) limits of a sum of variances.

    With a_i the parts, G_i = 1 − ν_i/χ²(1−α/2; ν_i) and H_i = ν_i/χ²(α/2; ν_i) − 1 (χ²(q; ν): quantile):

        low  = Σa_i − √(Σ G_i²·a_i²),   high = Σa_i + √(Σ H_i²·a_i²)

    One part alone gives the exact chi-square interval. Assumes normal, independent mean
    squares. Raises ValueError on a negative part, on df below 1 and on unequal lengths.

    Source: F. A. Graybill, C.-M. Wang, J. Am. Stat. Assoc. 75 (1980) 869 (from memory).

    >>> limits = sum_limits([0.38650 / 2, 0.0510 / 2], [4, 5], level=0.95)
    >>> round(limits.low ** 0.5, 4), round(limits.high ** 0.5, 4), round(limits.df, 4)
    (0.3064, 1.2756, 5.0549)
    """
    a, nu = _checked(parts, dfs, level)
    g, h = _g(nu, level), _h(nu, level)
    estimate = float(a.sum())
    return VarianceLimits(
        estimate=estimate,
        low=max(0.0, estimate - float(np.sqrt(np.sum((g * a) ** 2)))),
        high=estimate + float(np.sqrt(np.sum((h * a) ** 2))),
        level=level,
        df=_satterthwaite_df(a, nu),
    )


def satterthwaite_limits(parts: Sequence[float], dfs: Sequence[float], *, level: float) -> VarianceLimits:
    """Chi-square limits of a sum of variances on Satterthwaite's degrees of freedom.

        ν = (Σa_i)² / Σ(a_i²/ν_i),   low = ν·Σa_i/χ²(1−α/2; ν),   high = ν·Σa_i/χ²(α/2; ν)

    Its upper limit is too low when the part with few degrees of freedom dominates; use it
    only where its lower limit is the careful one. Raises ValueError like `sum_limits`.

    Source: F. E. Satterthwaite, Biometrics Bulletin 2 (1946) 110 (from memory).
    """
    a, nu = _checked(parts, dfs, level)
    estimate, df = float(a.sum()), _satterthwaite_df(a, nu)
    tail = (1 - level) / 2
    return VarianceLimits(
        estimate=estimate,
        low=estimate * df / float(special.chdtri(df, tail)),
        high=estimate * df / float(special.chdtri(df, 1 - tail)),
        level=level,
        df=df,
    )


def difference_limits(
    first: float, df_first: float, second: float, df_second: float, *, level: float
) -> VarianceLimits:
    """Modified large-sample limits of σ² = first − second, truncated at 0; for one variance component.

    With F_u and F_l the upper and lower α/2 points of F(ν₁, ν₂), and G, H as in `sum_limits`:

        G₁₂ = ((F_u − 1)² − G₁²·F_u² − H₂²)/F_u,   H₁₂ = ((1 − F_l)² − H₁²·F_l² − G₂²)/F_l
        low  = d − √(G₁²·a₁² + H₂²·a₂² + G₁₂·a₁·a₂)
        high = d + √(H₁²·a₁² + G₂²·a₂² + H₁₂·a₁·a₂),   d = a₁ − a₂

    The lower limit is 0 exactly when a₁/a₂ = F_u, so it agrees with the F test of the
    component. `estimate` is the untruncated difference, `df` that of Satterthwaite's
    approximation, 0 when both mean squares are 0.

    Source: N. Ting, R. K. Burdick, F. A. Graybill, S. Jeyaratnam, T.-F. C. Lu,
    J. Stat. Comput. Simul. 35 (1990) 135 (from memory).
    """
    a, nu = _checked((first, second), (df_first, df_second), level)
    tail = (1 - level) / 2
    upper_f = float(special.fdtri(nu[0], nu[1], 1 - tail))
    lower_f = float(special.fdtri(nu[0], nu[1], tail))
    (g1, g2), (h1, h2) = _g(nu, level), _h(nu, level)
    g12 = ((upper_f - 1) ** 2 - (g1 * upper_f) ** 2 - h2**2) / upper_f
    h12 = ((1 - lower_f) ** 2 - (h1 * lower_f) ** 2 - g2**2) / lower_f
    product = first * second
    down = (g1 * first) ** 2 + (h2 * second) ** 2 + g12 * product
    up = (h1 * first) ** 2 + (g2 * second) ** 2 + h12 * product
    estimate = first - second
    rests_on = (
        *((f"part_{i}", value) for i, value in ((1, first), (2, second))),
        *((f"df_{i}", float(value)) for i, value in ((1, nu[0]), (2, nu[1]))),
        *((f"g_{i}", float(value)) for i, value in ((1, g1), (2, g2))),
        *((f"h_{i}", float(value)) for i, value in ((1, h1), (2, h2))),
        ("cross_g", float(g12)),
        ("cross_h", float(h12)),
    )
    return VarianceLimits(
        estimate=estimate,
        low=max(0.0, estimate - float(np.sqrt(max(0.0, down)))),
        high=max(0.0, estimate + float(np.sqrt(max(0.0, up)))),
        level=level,
        df=estimate**2 / float(np.sum(a**2 / nu)) if a.any() else 0.0,
        rests_on=rests_on,
    )


def limit_factors(dfs: Sequence[float], *, level: float) -> tuple[tuple[float, float], ...]:
    """G = 1 − ν/χ²(1−α/2; ν) and H = ν/χ²(α/2; ν) − 1 of `sum_limits` for each of the degrees of freedom.

    >>> [round(factor, 4) for factor in limit_factors([5], level=0.95)[0]]
    [0.6104, 5.0153]
    """
    nu = np.asarray(dfs, dtype=float)
    return tuple((float(g), float(h)) for g, h in zip(_g(nu, level), _h(nu, level), strict=True))


def _checked(parts: Sequence[float], dfs: Sequence[float], level: float) -> tuple[np.ndarray, np.ndarray]:
    a, nu = np.asarray(parts, dtype=float), np.asarray(dfs, dtype=float)
    if a.ndim != 1 or a.shape != nu.shape or a.size == 0:
        raise ValueError(f"one degree of freedom for each mean square is needed: {a.size} parts, {nu.size} df")
    if not (np.isfinite(a).all() and (a >= 0).all()):
        raise ValueError("a scaled mean square cannot be negative")
    if not (nu >= 1).all():
        raise ValueError("each mean square needs at least 1 degree of freedom")
    if not 0 < level < 1:
        raise ValueError("the level is a fraction between 0 and 1")
    return a, nu


def _g(nu: np.ndarray, level: float) -> np.ndarray:
    return 1 - nu / special.chdtri(nu, (1 - level) / 2)


def _h(nu: np.ndarray, level: float) -> np.ndarray:
    return nu / special.chdtri(nu, (1 + level) / 2) - 1


def _satterthwaite_df(a: np.ndarray, nu: np.ndarray) -> float:
    total = float(a.sum())
    return total**2 / float(np.sum(a**2 / nu)) if total > 0 else float(nu.sum())
