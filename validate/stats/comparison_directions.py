"""Directions of the lines through all pairs of points, in the order that Passing and Bablok ask for.

A pair has the direction t = (Δy − Δx)/(Δy + Δx), taken so that Δx + Δy > 0: t is −1 for a
horizontal line, 0 for a slope of 1, 1 for a vertical one, and beyond 1 for steep falling
ones. Sorting by t is the order of the slopes from −1 upwards, through infinity, back to −1:
the count of slopes below −1 and the sign of an infinite slope are in it. Exchanging x and y
turns t into −t. A slope of −1 and identical points have Δx + Δy = 0: they are left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property

import numpy as np

from validate.stats._input import Floats

ALL_AT_ONCE = 700
"""Up to so many points every direction is made and sorted."""
BLOCK = 1 << 16
"""Directions that are made together: as many as the processor's cache holds."""
SAMPLE = 40_000
SEED = 20310303
"""Of the sample that narrows the search: it steers, the answer does not depend on it."""


class Directions:
    """The directions t of all pairs of n points, counted and ranked without keeping them.

    `kept` is the number of directions; `concordant`, `discordant`, `vertical` and `horizontal`
    count pairs; `identical` those without a direction at all.
    """

    def __init__(self, x: Floats, y: Floats) -> None:
        order = np.argsort(x + y, kind="stable")
        self.x, self.y = x[order], y[order]
        self.n = len(order)
        self.pairs = self.n * (self.n - 1) // 2
        self._after, self.kept = self._ends(self.x + self.y)
        _, numbers = np.unique(np.column_stack([x, y]), axis=0, return_counts=True)
        self.identical = int(np.sum(numbers * (numbers - 1) // 2))
        self.vertical, self.horizontal = _tied(x) - self.identical, _tied(y) - self.identical
        self._sorted = np.sort(np.concatenate(list(self._blocks()))) if self.n <= ALL_AT_ONCE else None
        self._found: dict[int, float] = {}
        steep = self._count_steep()
        self.concordant = self.kept - steep - self.vertical - self.horizontal
        self.discordant = steep + self.pairs - self.kept - self.identical

    def _ends(self, sums: Floats) -> tuple[np.ndarray, int]:
        """For each point the first one after it whose x + y is larger, and how many pairs that leaves.

        Sums of decimals are not exact in doubles: those that differ by rounding alone are equal.
        """
        size = np.abs(self.x) + np.abs(self.y)
        new = np.diff(sums) > 4 * np.finfo(float).eps * np.maximum(size[1:], size[:-1])
        group = np.concatenate([[0], np.cumsum(new)])
        numbers = np.bincount(group)
        return np.cumsum(numbers)[group], self.pairs - int(np.sum(numbers * (numbers - 1) // 2))

    def _blocks(self) -> Iterator[Floats]:
        """All directions, some rows of the triangle at a time."""
        first = 0
        while first < self.n - 1:
            rows = min(max(1, BLOCK // (self.n - first)), self.n - 1 - first)
            part, columns = slice(first, first + rows), slice(first + 1, self.n)
            dx = self.x[columns] - self.x[part, None]
            dy = self.y[columns] - self.y[part, None]
            with np.errstate(divide="ignore", invalid="ignore"):
                made = np.subtract(dy, dx)
                np.add(dy, dx, out=dy)
                np.divide(made, dy, out=made)
            corner = int(self._after[first + rows - 1]) - first - 1
            outside = np.arange(first + 1, first + 1 + corner) < self._after[part, None]
            made[:, :corner][outside] = np.nan
            yield made[:, corner:].ravel()
            yield made[:, :corner][~outside]
            first += rows

    def _count_steep(self) -> int:
        blocks = self._blocks() if self._sorted is None else [self._sorted]
        return int(sum(np.count_nonzero(np.abs(t) > 1) for t in blocks))

    def at(self, ranks: Sequence[int]) -> list[float]:
        """The directions of these ranks, 1 to `kept`, in ascending order of t; found once, they are kept."""
        if self._sorted is not None:
            return [float(self._sorted[rank - 1]) for rank in ranks]
        width = 4.0
        while open_ranks := [rank for rank in dict.fromkeys(ranks) if rank not in self._found]:
            self._found |= self._search(open_ranks, width)
            width *= 4
        return [self._found[rank] for rank in ranks]

    def _search(self, ranks: Sequence[int], width: float) -> dict[int, float]:
        """The directions of those ranks that lie in the brackets that a sample suggests."""
        brackets = [self._bracket(rank, width) for rank in ranks]
        low, high = min(a for a, _ in brackets), max(b for _, b in brackets)
        below = 0
        tallies = [_Tally(*bracket) for bracket in brackets]
        for t in self._blocks():
            below += int(np.count_nonzero(t < low))
            near = t[(t >= low) & (t <= high)]
            for tally in tallies:
                tally.add(near)
        answers = ((rank, tally.at(rank - below)) for rank, tally in zip(ranks, tallies, strict=True))
        return {rank: value for rank, value in answers if value is not None}

    def _bracket(self, rank: int, width: float) -> tuple[float, float]:
        sample = self._sample
        share, m = (rank - 0.5) / self.kept, len(sample)
        margin = width * np.sqrt(share * (1 - share) / m) + 2 / m
        first, last = int(np.floor((share - margin) * m)), int(np.ceil((share + margin) * m))
        return (sample[first] if first >= 0 else -np.inf), (sample[last] if last < m else np.inf)

    @cached_property
    def _sample(self) -> Floats:
        rng = np.random.default_rng(SEED)
        i, j = np.sort(rng.integers(0, self.n, (2, SAMPLE)), axis=0)
        usable = j >= self._after[i]
        i, j = i[usable], j[usable]
        dx, dy = self.x[j] - self.x[i], self.y[j] - self.y[i]
        return np.sort((dy - dx) / (dy + dx)) if len(i) else np.array([0.0])


class _Tally:
    """Directions below, at and between two ends; those between are kept."""

    def __init__(self, low: float, high: float) -> None:
        self.low, self.high = low, high
        self.below = self.at_low = self.at_high = 0
        self.inside: list[Floats] = []

    def add(self, t: Floats) -> None:
        self.below += int(np.count_nonzero(t < self.low))
        self.at_low += int(np.count_nonzero(t == self.low))
        self.at_high += int(np.count_nonzero(t == self.high))
        self.inside.append(t[(t > self.low) & (t < self.high)])

    def at(self, rank: int) -> float | None:
        """The direction of a rank counted from the lowest, or None where it lies outside the ends."""
        inside = np.concatenate(self.inside)
        place = rank - self.below
        if self.low == self.high:
            return float(self.low) if 1 <= place <= self.at_low else None
        if not 1 <= place <= self.at_low + len(inside) + self.at_high:
            return None
        if place <= self.at_low:
            return float(self.low)
        place -= self.at_low
        return float(np.partition(inside, place - 1)[place - 1]) if place <= len(inside) else float(self.high)


def _tied(values: Floats) -> int:
    """Pairs of equal values."""
    numbers = np.unique(values, return_counts=True)[1]
    return int(np.sum(numbers * (numbers - 1) // 2))
