"""Rows of results: one measurand, or many at once with NaN where a laboratory gave no result."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from validate.stats._input import LARGEST, Floats, count, vector


@dataclass(frozen=True)
class SortedRows:
    """Every row in ascending order, its missing results behind the `n` that it has.

    `single`: the input was one row. `reasons`: empty text, or why a row has too few results.
    """

    values: Floats
    n: NDArray[np.intp]
    single: bool
    reasons: tuple[str, ...]

    @property
    def usable(self) -> NDArray[np.bool_]:
        return np.array([not reason for reason in self.reasons], dtype=bool)


def sorted_rows(x: ArrayLike, *, at_least: int) -> SortedRows:
    """One row of numbers, or a two-dimensional array in which NaN is no result.

    ValueError for one row that is too short or holds a missing number, for an infinite
    number anywhere, and for more than two dimensions.
    """
    array = np.asarray(x, dtype=np.float64) if not isinstance(x, np.ndarray) else x.astype(np.float64, copy=False)
    if array.ndim != 2:
        row = vector(x, "result", at_least=at_least)
        return SortedRows(np.sort(row)[None, :], np.array([row.size]), True, ("",))
    with np.errstate(invalid="ignore"):
        if np.any(np.abs(array) > LARGEST):
            raise ValueError(f"a result is infinite or larger than {LARGEST:g}")
    n = array.shape[1] - np.count_nonzero(np.isnan(array), axis=1)
    reasons = tuple("" if k >= at_least else f"{count(int(k), 'result')} found, at least {at_least} needed" for k in n)
    return SortedRows(np.sort(array, axis=1), n, False, reasons)


def medians(values: Floats, n: NDArray[np.intp]) -> Floats:
    """Median of the first `n` values of every sorted row; every n is at least 1."""
    rows = np.arange(len(values))
    lower, upper = values[rows, (n - 1) // 2], values[rows, n // 2]
    return lower + (upper - lower) / 2


def quantiles(values: Floats, n: NDArray[np.intp], probability: float) -> Floats:
    """Linear between order statistics: position 1 + (n − 1)·p (Hyndman and Fan, type 7)."""
    rows, position = np.arange(len(values)), (n - 1) * probability
    low = np.floor(position).astype(np.intp)
    high = np.minimum(low + 1, n - 1)
    start = values[rows, low]
    return start + (values[rows, high] - start) * (position - low)


def row_by_row(x: ArrayLike, compute: Callable[[Floats], float], *, at_least: int) -> float | Floats:
    """`compute` of one row, or of every row of an array (NaN where a row has too few results)."""
    rows = sorted_rows(x, at_least=at_least)
    found = np.full(len(rows.values), np.nan)
    for i in np.flatnonzero(rows.usable):
        found[i] = compute(rows.values[i, : rows.n[i]])
    return float(found[0]) if rows.single else found
