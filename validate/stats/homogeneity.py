"""Whether the units of a batch are alike, and stay so, for the use that a scheme makes of them.

Both questions are asked against σ_pt, the standard deviation by which results are scored: what the
batch adds should be lost in it. A scatter that the measurements cannot resolve is neither
shown nor excluded; the results here say which rule holds, never what follows from it.
Stability stands in `homogeneity_stability`.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import number, vector
from validate.stats.components_one_way import OneWay, one_way
from validate.stats.homogeneity_stability import Stability, StabilityTrend, stability, stability_trend
from validate.stats.intervals import Limits, chi2_quantile
from validate.stats.outliers import cochran

__all__ = [
    "SHARE",
    "Homogeneity",
    "Stability",
    "StabilityTrend",
    "assess",
    "assess_units",
    "iupac_factors",
    "stability",
    "stability_trend",
    "widened_sigma",
]

SHARE = 0.3
"""Largest standard deviation between units, and largest change, as a share of σ_pt (ISO 13528)."""


@dataclass(frozen=True)
class Homogeneity:
    """`s_an` within and `s_sam` between units, in the unit of the results.

    `variance_sam_raw` may be negative (`s_sam` is then 0). `iso_critical` and `iupac_critical`
    are the largest `s_sam` that the rules let pass. `cochran_critical` is the 1 % point,
    `cochran_critical_5` the 5 % point, `cochran_index` the unit (in order of appearance) with
    the largest share; all three None with `cochran_reason` where there is nothing to test.
    `u_hidden` is the inhomogeneity that the repeatability of the measurements could hide.
    """

    n_units: int
    n: int
    mean: float
    s_an: float
    s_sam: float
    variance_sam_raw: float
    s_sam_limits: Limits
    sigma_pt: float
    cochran_c: float | None
    cochran_critical: float | None
    cochran_critical_5: float | None
    cochran_index: int | None
    cochran_reason: str
    f1: float
    f2: float
    iso_critical: float
    iupac_critical: float
    iso_met: bool
    iupac_met: bool
    u_hidden: float
    components: OneWay


def assess(first: ArrayLike, second: ArrayLike, sigma_pt: float, *, level: float = 0.95) -> Homogeneity:
    """Homogeneity of m units measured in duplicate, by both customary rules.

    s_an² = Σ(x₁ − x₂)²/(2m); s_sam² = s²(unit means) − s_an²/2, taken as 0 when negative.
    ISO 13528: s_sam ≤ 0.3·σ_pt. IUPAC: s_sam² ≤ F₁·(0.3·σ_pt)² + F₂·s_an², with
    F₁ = χ²(0.95; m − 1)/(m − 1) and F₂ = (F(0.95; m − 1, m) − 1)/2. Cochran's
    C = D²_max/ΣD² points at a pair that does not agree.

    `first`, `second`: one result each for every unit, σ_pt in the same unit, above 0. Assumes
    normal scatter, and that the replicates were measured in random order under repeatability.

    Raises ValueError for fewer than 2 units, unequal numbers, a missing value, σ_pt ≤ 0.

    Source: ISO 13528 Annex B and IUPAC Harmonized Protocol (2006), Appendix 1 (both from memory).

    >>> a = [10.1, 10.3, 9.9, 10.2, 10.0, 10.4, 9.8, 10.1, 10.2, 10.0]
    >>> b = [10.2, 10.1, 10.1, 10.0, 10.1, 10.1, 9.9, 10.3, 10.0, 10.2]
    >>> found = assess(a, b, 0.5)
    >>> round(found.s_an, 4), round(found.s_sam, 4), found.iso_met, found.iupac_met
    (0.1342, 0.0658, True, True)
    """
    one, two = vector(first, "first result", at_least=2), vector(second, "second result", at_least=2)
    if one.size != two.size:
        raise ValueError(f"{one.size} first and {two.size} second results found: every unit needs one of each")
    return assess_units(np.concatenate((one, two)), [*range(one.size)] * 2, sigma_pt, level=level)


def assess_units(values: ArrayLike, units: Iterable[Hashable], sigma_pt: float, *, level: float = 0.95) -> Homogeneity:
    """Homogeneity from any number of replicates, one label of `units` for each result.

    One-way analysis of variance: s_an² = MS_within, s_sam² = (MS_between − MS_within)/n0. For
    duplicates these are the sums of `assess`. F₂ = (F(0.95; m − 1, N − m) − 1)/n0, which for
    duplicates is the published one. u_hidden = √(MS_within/n0)·(2/(N − m))^¼.

    Raises ValueError for fewer than 2 units, no unit with a second result, σ_pt ≤ 0.

    Source: as `assess`; u_hidden: ISO Guide 35 (from memory); more than two replicates: the
    same argument, no published table.
    """
    sigma = number(sigma_pt, "σ_pt", above=0)
    x = vector(values, "result", at_least=3)
    labels = list(units)
    found = one_way(x, labels, level=level)
    m, df = found.n_groups, found.df_within
    f1, f2 = iupac_factors(m, df=df, replicates=found.n0)
    raw = found.variance_between_raw
    iso, iupac = SHARE * sigma, math.sqrt(max(0.0, f1 * (SHARE * sigma) ** 2 + f2 * found.ms_within))
    share, one, five, index, reason = _cochran(x, labels, found)
    return Homogeneity(
        n_units=m,
        n=found.n,
        mean=found.mean,
        s_an=found.s_r,
        s_sam=found.s_between,
        variance_sam_raw=raw,
        s_sam_limits=found.s_between_limits,
        sigma_pt=sigma,
        cochran_c=share,
        cochran_critical=one,
        cochran_critical_5=five,
        cochran_index=index,
        cochran_reason=reason,
        f1=f1,
        f2=f2,
        iso_critical=iso,
        iupac_critical=iupac,
        iso_met=found.s_between <= iso * (1 + 1e-9),
        iupac_met=found.s_between <= iupac * (1 + 1e-9),
        u_hidden=math.sqrt(found.ms_within / found.n0) * (2 / df) ** 0.25,
        components=found,
    )


def iupac_factors(units: int, *, df: float | None = None, replicates: float = 2.0) -> tuple[float, float]:
    """F₁ and F₂ for `units` units; `df` within units, units·(replicates − 1) when absent.

    >>> [round(factor, 2) for factor in iupac_factors(10)]
    [1.88, 1.01]
    """
    if int(units) != units or units < 2:
        raise ValueError(f"{units} units found, at least 2 needed")
    within = units * (replicates - 1) if df is None else df
    f1 = chi2_quantile(0.95, units - 1) / (units - 1)
    f2 = (float(special.fdtri(units - 1, within, 0.95)) - 1) / replicates
    return f1, f2


def widened_sigma(sigma_pt: float, s_sam: float) -> float:
    """σ′ = √(σ_pt² + s_sam²): scores that allow for unlike units.

    Source: ISO 13528 (from memory).

    >>> widened_sigma(4.0, 3.0)
    5.0
    """
    return math.hypot(number(sigma_pt, "σ_pt", above=0), number(s_sam, "s_sam", not_below=0))


def _cochran(
    x: np.ndarray, labels: list[Hashable], found: OneWay
) -> tuple[float | None, float | None, float | None, int | None, str]:
    """Share, 1 % and 5 % points, unit, and why there are none."""
    sizes = np.asarray(found.group_sizes)
    repeated = np.flatnonzero(sizes > 1)
    if repeated.size < 2:
        return None, None, None, None, "fewer than 2 units with a second result"
    position = {label: i for i, label in enumerate(found.labels)}
    codes = np.asarray([position[label] for label in labels])
    deviation = x - np.asarray(found.group_means)[codes]
    variances = np.bincount(codes, deviation**2)[repeated] / (sizes[repeated] - 1)
    if found.ms_within <= 0 or not variances.any():
        return None, None, None, None, "all replicates of each unit are equal"
    usual = int(np.bincount(sizes[repeated]).argmax())
    flag = cochran(variances, usual)
    return flag.statistic, flag.critical_1, flag.critical_5, int(repeated[flag.index]), ""
