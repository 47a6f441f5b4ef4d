"""Passing and Bablok's line of samples drawn again, for limits that ranks do not give."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from validate.stats._input import Floats
from validate.stats.comparison_directions import Directions

SEED = 20310303
RESAMPLES = 2000
MOST_BY_WEIGHTS = 120
"""Up to so many points every direction is weighted for all samples at once."""
FEWER = 200
"""Samples where each of them must be ranked on its own."""
CHUNK = 4_000_000


@dataclass(frozen=True)
class Lines:
    """Direction t of each line (see `comparison_directions`) and its intercept; that of a vertical one is NaN."""

    directions: Floats
    intercepts: Floats

    def biases(self, at: float) -> Floats:
        """intercept + (slope − 1)·at; NaN for a vertical line."""
        slopes = np.array([slope_of(float(t)) for t in self.directions])
        return self.intercepts + (np.where(np.isfinite(slopes), slopes, np.nan) - 1) * at


def percentiles(values: Floats, level: float) -> tuple[float, float]:
    """Central range of `values`; one that is not known (NaN) counts as beyond either end."""
    low = np.quantile(np.where(np.isnan(values), -np.inf, values), (1 - level) / 2, method="inverted_cdf")
    high = np.quantile(np.where(np.isnan(values), np.inf, values), (1 + level) / 2, method="inverted_cdf")
    return float(low), float(high)


def slope_of(direction: float) -> float:
    """(1 + t)/(1 − t): the slope of a direction.

    >>> slope_of(0.0), slope_of(-1.0), slope_of(1.0)
    (1.0, 0.0, inf)
    """
    return (1 + direction) / (1 - direction) if direction != 1 else math.inf


def resampled_lines(x: Floats, y: Floats) -> Lines:
    """Lines of bootstrap samples: n points drawn with replacement, seed 20310303.

    2000 samples up to 120 points, 200 beyond.
    """
    rng = np.random.default_rng(SEED)
    n = len(x)
    if n <= MOST_BY_WEIGHTS:
        chosen = rng.integers(0, n, (RESAMPLES, n))
        middles = _middles_by_weights(x, y, chosen)
    else:
        chosen = rng.integers(0, n, (FEWER, n))
        middles = np.array([_middle(x[each], y[each]) for each in chosen])
    usable = np.isfinite(middles)
    middles, chosen = middles[usable], chosen[usable]
    with np.errstate(divide="ignore", invalid="ignore"):
        slopes = np.where(middles == 1, np.nan, (1 + middles) / (1 - middles))
    return Lines(middles, np.median(y[chosen] - slopes[:, None] * x[chosen], axis=1))


def _middles_by_weights(x: Floats, y: Floats, chosen: np.ndarray) -> Floats:
    """The middle direction of every sample: a median of the n·(n − 1)/2 with the pairs' numbers as weights."""
    n = len(x)
    i, j = np.triu_indices(n, 1)
    dx, dy = x[j] - x[i], y[j] - y[i]
    size = np.abs(x[i]) + np.abs(y[i]) + np.abs(x[j]) + np.abs(y[j])
    kept = np.abs(dx + dy) > 4 * np.finfo(float).eps * size
    t = (dy[kept] - dx[kept]) / (dy[kept] + dx[kept])
    order = np.argsort(t, kind="stable")
    i, j, t = i[kept][order], j[kept][order], t[order]
    counts = np.apply_along_axis(np.bincount, 1, chosen, minlength=n).astype(np.int32)
    step = max(1, CHUNK // max(1, len(t)))
    found = [_weighted(t, counts[a : a + step], i, j) for a in range(0, len(counts), step)]
    return np.concatenate(found)


def _weighted(t: Floats, counts: np.ndarray, i: np.ndarray, j: np.ndarray) -> Floats:
    if not len(t):
        return np.full(len(counts), np.nan)
    running = np.cumsum(counts[:, i] * counts[:, j], axis=1)
    whole = running[:, -1]
    low = t[np.minimum(np.sum(running < ((whole + 1) // 2)[:, None], axis=1), len(t) - 1)]
    high = t[np.minimum(np.sum(running < (whole // 2 + 1)[:, None], axis=1), len(t) - 1)]
    return np.where(whole > 0, _between(low, high), np.nan)


def _middle(x: Floats, y: Floats) -> float:
    directions = Directions(x, y)
    if not directions.kept:
        return math.nan
    low, high = directions.at([(directions.kept + 1) // 2, directions.kept // 2 + 1])
    return float(_between(np.array(low), np.array(high)))


def _between(low: Floats, high: Floats) -> Floats:
    """The direction whose slope is the geometric mean of two; halfway where one is not above 0 and finite."""
    both = (low > -1) & (high < 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.sqrt(np.where(both, (1 + low) / (1 - low) * (1 + high) / (1 - high), 1.0))
    return np.where(both & (low != high), (slope - 1) / (slope + 1), (low + high) / 2)
