"""One laboratory's results at one level: mean, standard deviation and its degrees of freedom."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._input import Floats, group_codes, vector
from validate.stats._sums import squared_deviations


@dataclass(frozen=True)
class Cell:
    """`df` is n − 1, or n less the number of runs where results belong to runs; `sd` is None for df 0."""

    laboratory: Hashable
    mean: float
    sd: float | None
    df: int
    n: int


def cells_of(
    values: ArrayLike, laboratory: Iterable[Hashable], *, run: Iterable[Hashable] | None = None
) -> tuple[Cell, ...]:
    """The cells of one level, in order of first appearance.

    With `run` (a label for each result: batch, day) the standard deviation is that within the runs
    of a laboratory, pooled: √(Σ(x − run mean)²/(n − k)); runs with one label in two laboratories
    are different ones.

    Raises ValueError for a missing value, or labels that are not one for each result.

    >>> [(c.laboratory, round(c.mean, 2), round(c.sd, 4), c.df) for c in cells_of([1.0, 1.2, 3.0, 3.1], [*"AABB"])]
    [('A', 1.1, 0.1414, 1), ('B', 3.05, 0.0707, 1)]
    """
    x = vector(values, "result")
    codes, labels = group_codes(laboratory, x.size, "laboratory")
    runs = np.zeros(x.size, dtype=np.intp) if run is None else group_codes(run, x.size, "run")[0]
    return tuple(_cell(label, x[codes == i], runs[codes == i]) for i, label in enumerate(labels))


def _cell(label: Hashable, x: Floats, runs: np.ndarray) -> Cell:
    parts = [x[runs == run] for run in np.unique(runs)]
    df = x.size - len(parts)
    # Equal results have a variance of exactly 0, which squares of rounded deviations need not give.
    squares = math.fsum(squared_deviations(part)[1] for part in parts if np.ptp(part) > 0)
    return Cell(label, squared_deviations(x)[0], math.sqrt(squares / df) if df else None, df, x.size)
