"""Mean, standard deviation and the interval of a mean, with or without groups."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._input import count, group_codes, vector
from validate.stats._sums import cells, centred, squared_deviations
from validate.stats.intervals import t_limits


@dataclass(frozen=True)
class Summary:
    """`u` is the standard uncertainty of `mean` with `df`; `low, high` its limits at `level`.

    `sd` is the standard deviation of all results about their own mean; with groups it is
    a description, not an intermediate precision. `rsd_percent` is None, with the reason
    in `reason`, when the mean is not above zero. `n_groups` is None without groups.
    """

    n: int
    n_groups: int | None
    mean: float
    sd: float
    rsd_percent: float | None
    median: float
    minimum: float
    maximum: float
    u: float
    df: int
    low: float
    high: float
    level: float
    reason: str | None = None


def summary(x: ArrayLike, groups: Iterable[Hashable] | None = None, *, level: float = 0.95) -> Summary:
    """Describe results and give an interval for their mean.

    Without groups: mean = Σx/n, s = √(Σ(x − mean)²/(n − 1)), u = s/√n, t limits with
    n − 1 df. This assumes independent results: results of one day are not.

    With `groups` (one label per result: days, runs, laboratories): mean = unweighted mean
    of the p group means (equal to Σx/n when all groups are of one size),
    u = √(variance of the group means / p), t limits with p − 1 df.

    `x`: n numbers of one unit. Raises ValueError for n < 2, p < 2, a missing or infinite
    number, or a missing label.

    >>> found = summary([10.1, 10.3, 9.6, 9.9, 10.8, 10.6, 10.0, 9.7, 10.4, 10.9])
    >>> round(found.mean, 6), round(found.u, 4), found.df
    (10.23, 0.1415, 9)
    >>> days = summary([10.1, 10.3, 9.6, 9.9, 10.8, 10.6, 10.0, 9.7, 10.4, 10.9], [1, 1, 2, 2, 3, 3, 4, 4, 5, 5])
    >>> round(days.mean, 6), round(days.u, 4), days.df
    (10.23, 0.1966, 4)
    """
    values = vector(x, "result", at_least=2)
    n = len(values)
    mean, squares = squared_deviations(values)
    sd = math.sqrt(squares / (n - 1))
    u, df, n_groups = sd / math.sqrt(n), n - 1, None
    if groups is not None:
        mean, u, n_groups = mean_of_group_means(values, groups)
        df = n_groups - 1
    limits = t_limits(mean, u, df, level)
    return Summary(
        n=n,
        n_groups=n_groups,
        mean=mean,
        sd=sd,
        rsd_percent=100 * sd / mean if mean > 0 else None,
        median=float(np.median(values)),
        minimum=float(np.min(values)),
        maximum=float(np.max(values)),
        u=u,
        df=df,
        low=limits.low,
        high=limits.high,
        level=level,
        reason=None if mean > 0 else "the mean is not above zero: no relative standard deviation",
    )


def mean_of_group_means(x: ArrayLike, groups: Iterable[Hashable]) -> tuple[float, float, int]:
    """Unweighted mean of the group means, its standard uncertainty, and the number p of groups.

    u = √(Σ(group mean − mean)²/((p − 1)·p)), with p − 1 df. ValueError for p < 2.
    """
    values = vector(x, "result", at_least=2)
    codes, labels = group_codes(groups, len(values))
    p = len(labels)
    if p < 2:
        raise ValueError(f"{count(p, 'group')} found, at least 2 needed")
    centre, deviation = centred(values)
    mean, squares = squared_deviations(cells(deviation, codes).means)
    return centre + mean, math.sqrt(squares / (p - 1) / p), p
