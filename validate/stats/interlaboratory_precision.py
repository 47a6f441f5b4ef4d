"""Repeatability and reproducibility by level; split levels; see `interlaboratory`."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._input import Floats, group_codes, vector
from validate.stats._sums import squared_deviations
from validate.stats.components_one_way import OneWay, one_way
from validate.stats.intervals import Limits, Term, mls_limits, sd_limits
from validate.stats.precision import repeatability_limit


@dataclass(frozen=True)
class LevelPrecision:
    """One level: `mean` weighted by the numbers of results; r and R are 2.8 times s_r and s_R.

    `variance_L_raw` may be negative (`s_L` is then 0, s_R equals s_r). `components` holds the
    sums that a reviewer ticks off.
    """

    level: Hashable
    mean: float
    s_r: float
    s_L: float
    s_R: float
    r: float
    R: float
    n_laboratories: int
    n: int
    s_r_limits: Limits
    s_L_limits: Limits
    s_R_limits: Limits
    variance_L_raw: float
    components: OneWay


@dataclass(frozen=True)
class AccuracyExperiment:
    """The levels in order of first appearance."""

    levels: tuple[LevelPrecision, ...]


def accuracy_experiment(
    values: ArrayLike, laboratory: Iterable[Hashable], level: Iterable[Hashable], *, confidence: float = 0.95
) -> AccuracyExperiment:
    """Precision at each level of a balanced or unbalanced uniform-level experiment.

    s_r² = Σ(n_i − 1)s_i²/Σ(n_i − 1); s_d² = Σn_i(ȳ_i − m)²/(p − 1); n̄ = (N − Σn_i²/N)/(p − 1);
    s_L² = (s_d² − s_r²)/n̄, taken as 0 when negative; s_R² = s_r² + s_L²; r = 2.8·s_r, R = 2.8·s_R.
    Limits: chi-square for s_r, MLS for s_R, informative ones for s_L.

    `values`: N results of one unit; `laboratory`, `level`: one label each. Nothing is removed: see
    `screen` for what stands out. Assumes normal scatter of equal size in all laboratories.

    Raises ValueError, naming the level, for fewer than 2 laboratories or no laboratory with a
    second result at a level.

    Source: ISO 5725-2:1994, 7.4 and ISO 5725-6 (from memory).

    >>> x, lab = [1.0, 1.2, 1.4, 1.6, 1.1, 1.1], ["A", "A", "B", "B", "C", "C"]
    >>> (found,) = accuracy_experiment(x, lab, ["low"] * 6).levels
    >>> round(found.mean, 4), round(found.s_r, 4), round(found.s_L, 4), round(found.s_R, 4)
    (1.2333, 0.1155, 0.216, 0.2449)
    """
    x = vector(values, "result", at_least=3)
    laboratories = np.asarray(group_codes(laboratory, x.size, "laboratory")[0])
    codes, levels = group_codes(level, x.size, "level")
    return AccuracyExperiment(
        tuple(_at_level(name, x[codes == i], laboratories[codes == i], confidence) for i, name in enumerate(levels))
    )


def _at_level(name: Hashable, x: Floats, laboratories: np.ndarray, confidence: float) -> LevelPrecision:
    try:
        found = one_way(x, laboratories.tolist(), level=confidence)
    except ValueError as error:
        words = str(error).replace("groups", "laboratories").replace("group", "laboratory")
        raise ValueError(f"level {name}: {words}") from error
    return LevelPrecision(
        level=name,
        mean=found.mean,
        s_r=found.s_r,
        s_L=found.s_between,
        s_R=found.s_intermediate,
        r=repeatability_limit(found.s_r),
        R=repeatability_limit(found.s_intermediate),
        n_laboratories=found.n_groups,
        n=found.n,
        s_r_limits=found.s_r_limits,
        s_L_limits=found.s_between_limits,
        s_R_limits=found.s_intermediate_limits,
        variance_L_raw=found.variance_between_raw,
        components=found,
    )


@dataclass(frozen=True)
class SplitLevel:
    """Precision from one result on each of two nearly equal samples in every laboratory.

    `s_D` is the standard deviation of the differences, `s_y` that of the laboratories' averages.
    `correlation` of the two results shows how much laboratories differ: None where one of the
    samples gave equal results everywhere. `terms` add up to s_R².
    """

    mean_first: float
    mean_second: float
    mean: float
    mean_difference: float
    s_D: float
    s_y: float
    s_r: float
    s_L: float
    s_R: float
    r: float
    R: float
    n_laboratories: int
    variance_L_raw: float
    correlation: float | None
    s_r_limits: Limits
    s_R_limits: Limits
    terms: tuple[Term, ...]


def split_level(first: ArrayLike, second: ArrayLike, *, confidence: float = 0.95) -> SplitLevel:
    """Repeatability and reproducibility from Youden pairs.

    D_i = a_i − b_i, y_i = (a_i + b_i)/2; s_r = s_D/√2; s_R² = s_y² + s_r²/2;
    s_L² = s_R² − s_r², negative ones taken as 0 (s_R is then s_r). The difference between the two samples cancels
    in s_D, since every laboratory has both.

    `first`, `second`: the results a, b of p laboratories in one order and unit. Assumes the same
    precision for both samples.

    Raises ValueError for fewer than 3 laboratories, unequal numbers, a missing value.

    Source: ISO 5725-5:1998, 4 (split-level experiment), from memory.

    >>> found = split_level([10.0, 10.4, 9.8, 10.2], [11.1, 11.3, 10.9, 11.1])
    >>> round(found.s_D, 4), round(found.s_r, 4), round(found.s_y, 4), round(found.s_R, 4)
    (0.1155, 0.0816, 0.2082, 0.216)
    """
    a, b = vector(first, "first result", at_least=3), vector(second, "second result", at_least=3)
    if a.size != b.size:
        raise ValueError(f"{a.size} first and {b.size} second results found: every laboratory needs one of each")
    p = a.size
    difference, squares_d = squared_deviations(a - b)
    mean, squares_y = squared_deviations((a + b) / 2)
    variance_r, variance_y = squares_d / (p - 1) / 2, squares_y / (p - 1)
    raw = variance_y - variance_r / 2
    terms = (Term(variance_y, p - 1), Term(variance_r / 2, p - 1))
    s_r, s_R = math.sqrt(variance_r), math.sqrt(variance_r + max(0.0, raw))
    both_vary = np.ptp(a) > 0 and np.ptp(b) > 0
    return SplitLevel(
        mean_first=float(a.mean()),
        mean_second=float(b.mean()),
        mean=mean,
        mean_difference=difference,
        s_D=math.sqrt(2 * variance_r),
        s_y=math.sqrt(variance_y),
        s_r=s_r,
        s_L=math.sqrt(max(0.0, raw)),
        s_R=s_R,
        r=repeatability_limit(s_r),
        R=repeatability_limit(s_R),
        n_laboratories=p,
        variance_L_raw=raw,
        correlation=float(np.corrcoef(a, b)[0, 1]) if both_vary else None,
        s_r_limits=sd_limits(s_r, p - 1, confidence),
        s_R_limits=mls_limits(terms, confidence),
        terms=terms,
    )
