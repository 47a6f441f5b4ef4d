"""Modes of the kernel density of results, with bootstrap evidence, by binning and Fourier transform."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from validate.stats._input import Floats, number, vector, whole_number

BANDWIDTH = 0.75
"""Bandwidth in σ_pt (IUPAC harmonised protocol 2006, from memory)."""
RESAMPLES = 1000
PER_BANDWIDTH = 16
"""Bins in one bandwidth."""
MOST_BINS = 1 << 14
CELLS = 4_000_000
"""Bins × resamples that are held at once."""


@dataclass(frozen=True)
class Mode:
    """A local maximum of the density.

    `weight`: share of the results between the minima on both sides. `se_location`: SD of its
    place over the resamples that have a mode there. `support`: share of resamples that do.
    """

    location: float
    height: float
    weight: float
    se_location: float | None
    support: float


@dataclass(frozen=True)
class Modes:
    """All modes, the highest first; the density on a grid for a picture; the seed of the bootstrap."""

    modes: tuple[Mode, ...]
    bandwidth: float
    grid: Floats
    density: Floats
    n: int
    resamples: int
    seed: int


def density(x: ArrayLike, bandwidth: float, at: ArrayLike) -> Floats:
    """Gaussian kernel density Σ φ((t − x_i)/h)/(n·h) at the points `at`, as a direct sum."""
    values, h = vector(x, "result"), number(bandwidth, "the bandwidth", above=0)
    places = np.asarray(at, dtype=np.float64)
    return np.array([np.exp(-0.5 * ((t - values) / h) ** 2).sum() for t in places.ravel()]).reshape(places.shape) / (
        len(values) * h * np.sqrt(2 * np.pi)
    )


def consensus_modes(
    x: ArrayLike, sigma: float, *, seed: int, bandwidth: float | None = None, resamples: int = RESAMPLES
) -> Modes:
    """Modes of the results by a Gaussian kernel of bandwidth 0.75·σ (or the `bandwidth` given).

    `x`: results, at least 2; `sigma`: σ_pt in their unit. The modes are found on a grid and
    then solved for on the exact sum. The bootstrap draws `resamples` sets of n results with
    the recorded `seed`; binned, they are transformed together.

    ValueError for σ ≤ 0, or a range of results above some 2,000 bandwidths: then a blunder
    has to leave first. A mode with small weight or support is no second population.

    Sources: IUPAC harmonised protocol, Pure Appl. Chem. 78 (2006) 145-196, appendix 3 (from
    memory); P. J. Lowthian, M. Thompson, Analyst 127 (2002) 1359-1364.
    """
    values = np.sort(vector(x, "result", at_least=2))
    scale = number(sigma, "σ", above=0)
    h = BANDWIDTH * scale if bandwidth is None else number(bandwidth, "the bandwidth", above=0)
    number_of_sets = whole_number(resamples, "the number of resamples", at_least=1)
    low, high = values[0] - 4 * h, values[-1] + 4 * h
    bins = int(np.ceil((high - low) / h * PER_BANDWIDTH)) + 1
    if bins > MOST_BINS:
        raise ValueError(
            f"the results span {(values[-1] - values[0]) / h:.0f} bandwidths, at most some 2,000 are possible"
        )
    grid = low + h / PER_BANDWIDTH * np.arange(bins)
    kernel = _Kernel.of(h, grid)
    curve = kernel.smoothed(_binned(values[None, :], grid))[0] / (len(values) * h)
    peaks = _peaks(curve[None, :])[1]
    edges = np.array([a + np.argmin(curve[a:b]) for a, b in pairwise(peaks)], dtype=np.intp)
    places = np.array([_solve(values, h, grid[p]) for p in peaks])
    heights = density(values, h, places)
    found, spread = _bootstrap(values, kernel, grid, edges, number_of_sets, seed)
    weights = np.histogram(values, np.concatenate(([-np.inf], grid[edges], [np.inf])))[0] / len(values)
    order = np.argsort(-heights, kind="stable")
    modes = tuple(
        Mode(float(places[i]), float(heights[i]), float(weights[i]), spread[i], float(found[i])) for i in order
    )
    return Modes(modes, h, grid, curve, len(values), number_of_sets, seed)


def _binned(sets: Floats, grid: Floats) -> Floats:
    """Every set of results (a row) as counts; each result is shared between its two neighbouring bins."""
    position = (sets - grid[0]) / (grid[1] - grid[0])
    left = np.minimum(position.astype(np.intp), len(grid) - 2)
    share = (position - left).ravel()
    cell = (left + len(grid) * np.arange(len(sets))[:, None]).ravel()
    counts = np.bincount(cell, 1 - share, len(sets) * len(grid)) + np.bincount(cell + 1, share, len(sets) * len(grid))
    return counts.reshape(len(sets), len(grid))


@dataclass(frozen=True)
class _Kernel:
    """Fourier transform of the kernel on a circle of `size` bins, so wide that its ends do not meet."""

    transform: Floats
    size: int

    @classmethod
    def of(cls, h: float, grid: Floats) -> _Kernel:
        step = grid[1] - grid[0]
        size = fft.next_fast_len(len(grid) + int(np.ceil(8 * h / step)), real=True)
        frequency = np.arange(size // 2 + 1) * (2 * np.pi / (size * step))
        return cls(np.exp(-0.5 * (frequency * h) ** 2) * h / step, size)

    def smoothed(self, counts: Floats) -> Floats:
        """Σ φ((t − x)/h) on the grid for every row of counts."""
        wide = fft.irfft(fft.rfft(counts, self.size, axis=1) * self.transform, self.size, axis=1)
        return wide[:, : counts.shape[1]]


def _solve(values: Floats, h: float, start: float) -> float:
    """The maximum of the exact sum near `start`: t moves to the mean of the results weighted by its kernel."""
    at = start
    for _ in range(2000):
        weights = np.exp(-0.5 * ((at - values) / h) ** 2)
        before, at = at, at + float(np.dot(weights, values - at) / weights.sum())
        if abs(at - before) <= 1e-14 * h:
            break
    return at


def _bootstrap(
    values: Floats, kernel: _Kernel, grid: Floats, edges: NDArray[np.intp], sets: int, seed: int
) -> tuple[Floats, list[float | None]]:
    """For each mode the share of resamples with a mode between its edges, and the SD of its place."""
    rng = np.random.default_rng(seed)
    places: list[list[Floats]] = [[] for _ in range(len(edges) + 1)]
    at_once = max(1, CELLS // (len(grid) + len(values)))
    for start in range(0, sets, at_once):
        curves = kernel.smoothed(_resampled(values, grid, min(at_once, sets - start), rng))
        for basin, found in enumerate(_highest_in_basins(curves, grid, edges)):
            places[basin].append(found)
    together = [np.concatenate(found) for found in places]
    spread = [float(np.std(found, ddof=1)) if len(found) > 1 else None for found in together]
    return np.array([len(found) / sets for found in together]), spread


def _resampled(values: Floats, grid: Floats, sets: int, rng: np.random.Generator) -> Floats:
    """Binned sets of n results drawn with replacement; of many results the bins are drawn instead of the results."""
    n = len(values)
    if n > len(grid):
        share = _binned(values[None, :], grid)[0] / n
        return rng.multinomial(n, share / share.sum(), sets).astype(np.float64)
    return _binned(values[rng.integers(0, n, (sets, n))], grid)


def _peaks(curves: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Row and column of every local maximum, in order, but for the ripple that rounding leaves where no result is."""
    middle = curves[:, 1:-1]
    is_peak = (middle > curves[:, :-2]) & (middle >= curves[:, 2:]) & (middle > 1e-6 * curves.max())
    row, column = np.nonzero(is_peak)
    return row, column + 1


def _highest_in_basins(curves: Floats, grid: Floats, edges: NDArray[np.intp]) -> list[Floats]:
    """For each basin the place of its highest mode, in every curve that has one there."""
    row, column = _peaks(curves)
    basin, height = np.searchsorted(edges, column, side="right"), curves[row, column]
    order = np.lexsort((-height, basin, row))
    key = row[order] * (len(edges) + 1) + basin[order]
    chosen = order[np.concatenate(([True], np.diff(key) != 0))]
    row, column, basin = row[chosen], column[chosen], basin[chosen]
    before, at, after = (curves[row, column + shift] for shift in (-1, 0, 1))
    place = grid[column] + (grid[1] - grid[0]) * 0.5 * (before - after) / (before - 2 * at + after)
    return [place[basin == i] for i in range(len(edges) + 1)]
