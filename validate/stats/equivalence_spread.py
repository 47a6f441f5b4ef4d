"""Does the new lot scatter more than the current one? Ratio of two standard deviations; see `equivalence`."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import confidence, group_codes, number, vector


@dataclass(frozen=True)
class SpreadRatio:
    """s_new/s_current. `high` at level 0.90 is the one-sided 95 % upper limit."""

    estimate: float
    low: float
    high: float
    level: float
    s_new: float
    s_current: float
    f: float
    """Ratio of the variances."""
    df_new: float
    df_current: float
    p_value: float
    """Two-sided, of F against 1. Above 0.05 it is no finding: look at `high`."""
    rests_on: tuple[tuple[str, float], ...] = field(default=(), repr=False, compare=False)
    """`f_1`, F((1 + level)/2; df_new, df_current), and `f_2`, the same with the two numbers changed over."""


def sd_ratio(s_new: float, df_new: float, s_current: float, df_current: float, *, level: float = 0.90) -> SpreadRatio:
    """Ratio of two independent standard deviations with F limits.

    high = (s_new/s_current)·√F((1 + level)/2; df_current, df_new), low likewise with
    1/√F((1 + level)/2; df_new, df_current). Assumes normal scatter.

    Raises ValueError for a standard deviation of 0 or below, or df that is not above 0.

    >>> round(sd_ratio(1, 9, 1, 9).high, 2)
    1.78
    """
    first, second = (number(s, "a standard deviation", above=0) for s in (s_new, s_current))
    df_1, df_2 = (number(df, "df", above=0) for df in (df_new, df_current))
    ratio, tail = first / second, (1 + confidence(level)) / 2
    below = float(special.fdtr(df_1, df_2, ratio**2))
    f_1, f_2 = float(special.fdtri(df_1, df_2, tail)), float(special.fdtri(df_2, df_1, tail))
    return SpreadRatio(
        estimate=ratio,
        low=ratio / math.sqrt(f_1),
        high=ratio * math.sqrt(f_2),
        level=level,
        s_new=first,
        s_current=second,
        f=ratio**2,
        df_new=df_1,
        df_current=df_2,
        p_value=min(1.0, 2 * min(below, float(special.fdtrc(df_1, df_2, ratio**2)))),
        rests_on=(("f_1", f_1), ("f_2", f_2)),
    )


def variance_ratio(
    new: ArrayLike,
    current: ArrayLike,
    *,
    new_groups: Iterable[Hashable] | None = None,
    current_groups: Iterable[Hashable] | None = None,
    level: float = 0.90,
) -> SpreadRatio:
    """`sd_ratio` of two independent samples; with groups (samples measured repeatedly) pooled within them.

    Without groups each row holds results on one material. Samples of different content must be
    told apart by groups: otherwise their contents are compared and not the scatter.

    Raises ValueError for fewer than 2 results, groups none of which repeats a result, a
    spread of 0, or a value that is missing.
    """
    sds = [
        _pooled(vector(values, f"{whose} result", at_least=2), groups, whose)
        for values, groups, whose in ((new, new_groups, "new"), (current, current_groups, "current"))
    ]
    for (s, _), whose in zip(sds, ("new", "current"), strict=True):
        if not s > 0:
            raise ValueError(f"the {whose} results do not scatter: there is no ratio of spreads")
    (s_new, df_new), (s_current, df_current) = sds
    return sd_ratio(s_new, df_new, s_current, df_current, level=level)


def _pooled(values: np.ndarray, groups: Iterable[Hashable] | None, whose: str) -> tuple[float, int]:
    """Standard deviation within groups and its degrees of freedom."""
    codes, labels = group_codes([0] * values.size if groups is None else groups, values.size)
    df = values.size - len(labels)
    if df < 1:
        raise ValueError(f"no {whose} result was repeated: its scatter is unknown")
    means = np.bincount(codes, weights=values) / np.bincount(codes)
    return math.sqrt(math.fsum((values - means[codes]) ** 2) / df), df
