"""Shewhart charts: centre and limits from a base period, or from values that are given."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from validate.stats._input import Floats, number, vector
from validate.stats._sums import total

WIDTH, WARNING = 3.0, 2.0
MOST_PER_RUN = 25


@dataclass(frozen=True)
class Individuals:
    """Chart of single values with moving range; warning limits at 2 sigma, action limits at 3 sigma.

    `n_base` values gave the limits; 0 where both centre and sigma were given.
    """

    centre: float
    sigma: float
    lower: float
    upper: float
    lower_warning: float
    upper_warning: float
    moving_ranges: Floats
    """|x_i − x_(i−1)|, one fewer than there are values."""
    mean_moving_range: float
    moving_range_upper: float
    n_base: int


@dataclass(frozen=True)
class MeanAndRange:
    """Charts of means and ranges of runs with n readings each; `sigma_mean` is that of a run's mean."""

    centre: float
    sigma_mean: float
    sigma_within: float
    lower: float
    upper: float
    lower_warning: float
    upper_warning: float
    means: Floats
    ranges: Floats
    mean_range: float
    range_lower: float
    range_upper: float
    n: int
    n_base: int


def individuals(
    x: ArrayLike, *, base: ArrayLike | None = None, centre: float | None = None, sigma: float | None = None
) -> Individuals:
    """Limits centre ± 3·sigma of single values; centre = mean and sigma = mean moving range/1.128 of the base.

    `x`: values in order of time; `base`: True for those of the base period, all when None; moving
    ranges count where both values belong to it. `centre`, `sigma`: given instead, for example
    the certified value and an SD from earlier work. Limit of the moving range: 3.686·sigma = 3.267·mean.

    Raises ValueError for fewer than 2 values, a base of fewer than 2, base values that never
    change (no sigma), a missing value.

    Source: ISO 7870-2:2013, individuals chart (from memory).

    >>> found = individuals([10.0, 10.2, 9.9, 10.1, 10.3])
    >>> round(found.centre, 2), round(found.sigma, 4), round(found.upper, 3)
    (10.1, 0.1994, 10.698)
    """
    values = vector(x, "value", at_least=2)
    chosen = _base(base, len(values))
    moving = np.abs(np.diff(values))
    both = chosen[1:] & chosen[:-1]
    middle = _mean(values[chosen]) if centre is None else number(centre, "the centre")
    if sigma is None:
        if not both.any():
            raise ValueError("the base period holds no two values in a row: there is no moving range")
        spread = _mean(moving[both]) / range_constants(2)[0]
    else:
        spread = number(sigma, "sigma", above=0)
    if spread <= 0:
        raise ValueError("the values of the base period never change: there is no sigma")
    d2, d3 = range_constants(2)
    return Individuals(
        centre=middle,
        sigma=spread,
        **_ends(middle, spread),
        moving_ranges=moving,
        mean_moving_range=d2 * spread,
        moving_range_upper=(d2 + WIDTH * d3) * spread,
        n_base=0 if centre is not None and sigma is not None else int(chosen.sum()),
    )


def mean_and_range(
    x: ArrayLike,
    *,
    base: ArrayLike | None = None,
    centre: float | None = None,
    sigma_mean: float | None = None,
    runs_differ: bool,
) -> MeanAndRange:
    """Limits of the means of runs, and of their ranges R̄·D3 and R̄·D4; sigma within a run = R̄/d2.

    `x`: one row for each run, n readings in a row, in order of time; `base` and `centre` as in
    `individuals`. `runs_differ` has no default. False: runs differ by the scatter within them
    alone, sigma of a mean = R̄/(d2·√n), the textbook limits x̄ ± A2·R̄. True: runs differ by
    calibration, day or analyst too; sigma of a mean = its mean moving range/1.128. `sigma_mean`: given instead.

    Raises ValueError for an array that is not two-dimensional, fewer than 2 runs, n below 2 or above 25,
    a missing value, or readings that never change.

    Source: ISO 7870-2:2013 (from memory); d2, d3 by integration.
    """
    values = np.asarray(x, dtype=np.float64)
    if values.ndim != 2 or values.shape[0] < 2 or not 2 <= values.shape[1] <= MOST_PER_RUN:
        raise ValueError(f"2 runs or more of 2 to {MOST_PER_RUN} readings are needed, found an array of {values.shape}")
    if not np.all(np.isfinite(values)):
        raise ValueError("a reading is missing or infinite")
    n = values.shape[1]
    chosen = _base(base, len(values))
    means, ranges = values.mean(axis=1), np.ptp(values, axis=1)
    d2, d3 = range_constants(n)
    mean_range = _mean(ranges[chosen])
    within = mean_range / d2
    middle = _mean(means[chosen]) if centre is None else number(centre, "the centre")
    if sigma_mean is not None:
        spread = number(sigma_mean, "sigma", above=0)
    elif runs_differ:
        spread = individuals(means, base=chosen).sigma
    else:
        spread = within / math.sqrt(n)
    if spread <= 0:
        raise ValueError("the readings of the base period never change: there is no sigma")
    return MeanAndRange(
        centre=middle,
        sigma_mean=spread,
        sigma_within=within,
        **_ends(middle, spread),
        means=means,
        ranges=ranges,
        mean_range=mean_range,
        range_lower=max(0.0, 1 - WIDTH * d3 / d2) * mean_range,
        range_upper=(1 + WIDTH * d3 / d2) * mean_range,
        n=n,
        n_base=int(chosen.sum()),
    )


def serial_correlation(x: ArrayLike) -> float:
    """Correlation of neighbouring values, r₁ = Σ(x_i − x̄)(x_(i+1) − x̄)/Σ(x_i − x̄)².

    About normal with SD 1/√n for n independent values. Where it is above 0 moving ranges are small, limits
    from them too narrow, and standard errors of means that take runs as independent too small.

    Raises ValueError for fewer than 3 values, a missing one, or values that never change.

    Source: any text on time series; here M. S. Bartlett, J. R. Stat. Soc. Suppl. 8 (1946) 27-41 (from memory).

    >>> round(serial_correlation([1.0, 2, 3, 4]), 4)
    0.25
    """
    values = vector(x, "value", at_least=3)
    away = values - _mean(values)
    squares = total(away**2)
    if squares <= 0:
        raise ValueError("the values never change: there is no correlation")
    return total(away[1:] * away[:-1]) / squares


@lru_cache(maxsize=MOST_PER_RUN)
def range_constants(n: int) -> tuple[float, float]:
    """d2 and d3: mean and standard deviation of the range of n normal values, in standard deviations.

    d2 = ∫(1 − Φⁿ − (1 − Φ)ⁿ); E(R²) = 2∫∫_{y<x}(1 − Φ(x)ⁿ − (1 − Φ(y))ⁿ + (Φ(x) − Φ(y))ⁿ).

    >>> [round(c, 3) for c in range_constants(5)]
    [2.326, 0.864]
    """
    if not 2 <= n <= MOST_PER_RUN:
        raise ValueError(f"a range of 2 to {MOST_PER_RUN} values is possible, found {n}")
    if n == 2:
        return 2 / math.sqrt(math.pi), math.sqrt(2 - 4 / math.pi)
    points, step = np.linspace(-9, 9, 1801, retstep=True)
    phi = special.ndtr(points)
    first = float(np.sum(1 - phi**n - (1 - phi) ** n) * step)
    inner = 1 - phi[:, None] ** n - (1 - phi[None, :]) ** n + np.abs(phi[:, None] - phi[None, :]) ** n
    below = np.tri(len(points), k=-1) + 0.5 * np.eye(len(points))
    second = 2 * float(np.sum(inner * below)) * step**2
    return first, math.sqrt(second - first**2)


def _ends(centre: float, sigma: float) -> dict[str, float]:
    return {
        "lower": centre - WIDTH * sigma,
        "upper": centre + WIDTH * sigma,
        "lower_warning": centre - WARNING * sigma,
        "upper_warning": centre + WARNING * sigma,
    }


def _base(base: ArrayLike | None, n: int) -> NDArray[np.bool_]:
    if base is None:
        return np.ones(n, dtype=bool)
    chosen = np.asarray(base, dtype=bool)
    if chosen.shape != (n,):
        raise ValueError(f"base says yes or no for each of the {n} points, found an array of {chosen.shape}")
    if chosen.sum() < 2:
        raise ValueError(f"a base period of {int(chosen.sum())} points found, at least 2 needed")
    return chosen


def _mean(values: Floats) -> float:
    return total(values) / len(values)
