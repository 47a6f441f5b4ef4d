"""Order statistics of all pairwise differences of n results, without making the n²/2 of them.

A sample of the differences that are still possible gives candidates; counting how many
differences lie at or below a candidate costs n·log n. The sample only steers the search:
the answer does not depend on it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from validate.stats._input import Floats

CLOSE = 1e-12
"""Differences that agree to this part of the largest result are equal: decimals are not exact in doubles."""
SAMPLE = 4096
MADE = 100_000
"""So many differences are made and sorted."""


class Differences:
    """|x_i − x_j| over i < j of sorted results."""

    def __init__(self, ordered: Floats) -> None:
        self.x = ordered
        self.n = len(ordered)
        self.pairs = self.n * (self.n - 1) // 2
        self.close = CLOSE * float(np.max(np.abs(ordered)))
        self._rows = np.arange(self.n)

    def _beyond(self, difference: float) -> NDArray[np.intp]:
        """For each i the first j > i with x_j − x_i above `difference`."""
        return np.maximum(np.searchsorted(self.x, self.x + difference, side="right"), self._rows + 1)

    def at_most(self, difference: float) -> int:
        """How many differences are at most this large, equal ones included."""
        return int(np.sum(self._beyond(difference + self.close) - self._rows - 1))

    def below(self, difference: float) -> int:
        """How many differences are smaller, and not equal."""
        return int(np.sum(self._beyond(difference - self.close) - self._rows - 1))

    def next_above(self, difference: float) -> float | None:
        """The smallest difference that is larger, or None."""
        j = self._beyond(difference + self.close)
        inside = j < self.n
        return float(np.min(self.x[j[inside]] - self.x[self._rows[inside]])) if inside.any() else None

    def next_below(self, difference: float) -> float | None:
        """The largest difference that is smaller, or None."""
        j = self._beyond(difference - self.close) - 1
        inside = j > self._rows
        return float(np.max(self.x[j[inside]] - self.x[self._rows[inside]])) if inside.any() else None

    def kth(self, k: int) -> float:
        """The k-th smallest difference, k from 1 to n·(n − 1)/2."""
        first, last = self._rows + 1, np.full(self.n, self.n)
        rng = np.random.default_rng(0)
        while True:
            counts = np.maximum(last - first, 0)
            total = int(counts.sum())
            if total <= MADE:
                made = self._made(first, counts)
                rank = k - int(np.sum(first - self._rows - 1)) - 1
                rank = min(max(rank, 0), total - 1)
                return float(np.partition(made, rank)[rank])
            sample = self._sampled(first, counts, total, rng)
            reached = self._first_reaching(sample, k)
            if reached < len(sample):
                if self.below(sample[reached]) < k:
                    return float(sample[reached])
                last = np.minimum(last, self._beyond(sample[reached] - self.close))
            if reached:
                first = np.maximum(first, self._beyond(sample[reached - 1] + self.close))

    def _first_reaching(self, sample: Floats, k: int) -> int:
        """Index of the smallest sampled difference with at least k differences at most as large."""
        low, high = 0, len(sample)
        while low < high:
            middle = (low + high) // 2
            if self.at_most(sample[middle]) >= k:
                high = middle
            else:
                low = middle + 1
        return low

    def _sampled(
        self, first: NDArray[np.intp], counts: NDArray[np.intp], total: int, rng: np.random.Generator
    ) -> Floats:
        positions = np.sort(rng.integers(0, total, SAMPLE))
        ends = np.cumsum(counts)
        i = np.searchsorted(ends, positions, side="right")
        j = first[i] + positions - (ends[i] - counts[i])
        return np.unique(self.x[j] - self.x[i])

    def _made(self, first: NDArray[np.intp], counts: NDArray[np.intp]) -> Floats:
        i = np.repeat(self._rows, counts)
        offset = np.arange(len(i)) - np.repeat(np.cumsum(counts) - counts, counts)
        return self.x[np.repeat(first, counts) + offset] - self.x[i]
