"""Many calibration lines in one call: an analyte a row."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from validate.stats._input import LARGEST, Floats, confidence
from validate.stats._sums import products

BLOCK = 8192
"""Numbers worked on at a time: they stay in the cache, and no memory is asked for again and again."""
FAULTS = (
    "a missing or infinite number",
    "a number too large to be squared",
    "a weight that is not above 0",
    "all x are equal",
    "the signals do not vary",
    "the differences are too small or too large for doubles",
)
"""Why a row has no line; the first that applies is told."""


@dataclass(frozen=True)
class Lines:
    """The results of `calibration_line.line` as arrays, one entry a row.

    `slope_low`, `slope_high`, `intercept_low`, `intercept_high` are limits at `level`.
    `reason` holds None, or why the row has no line; its numbers are then NaN. `df` is the
    same for all rows.
    """

    slope: Floats
    intercept: Floats
    se_slope: Floats
    se_intercept: Floats
    slope_low: Floats
    slope_high: Floats
    intercept_low: Floats
    intercept_high: Floats
    residual_sd: Floats
    r_squared: Floats
    df: int
    level: float
    reason: tuple[str | None, ...]


def lines(x: ArrayLike, y: ArrayLike, weights: ArrayLike | None = None, *, level: float = 0.95) -> Lines:
    """Fit y = a + b·x to every row of `y`; formulas as for `calibration_line.line`.

    `y`: k × n signals. `x`, `weights`: n values shared by all rows, or k × n. The
    coefficients are refined once, as there; the residuals of the first round serve for s.

    A row with a missing number, a weight that is not above 0 or equal x gets its `reason`.
    Raises ValueError for shapes that do not fit or fewer than 3 points a row.

    >>> found = lines([0, 1, 2, 3], [[1, 3, 5, 7.5], [0, 1, 2, float("nan")]])
    >>> found.slope.round(3).tolist()[0], found.reason[1]
    (2.15, 'a missing or infinite number')
    """
    confidence(level)
    signals = np.asarray(y, dtype=np.float64)
    if signals.ndim != 2:
        raise ValueError(f"a row of signals for each analyte is expected, found {signals.ndim} dimensions")
    n = signals.shape[1]
    if n < 3:
        raise ValueError(f"{n} points a row found, at least 3 needed")
    amounts = _fitting(x, signals.shape, "x")
    w = np.ones((1, n)) if weights is None else _fitting(weights, signals.shape, "weights")
    figures = np.empty((6, len(signals)))
    reason: list[str | None] = []
    step = max(1, BLOCK // n)
    for start in range(0, len(signals), step):
        part = slice(start, start + step)
        some = (rows if len(rows) == 1 else rows[part] for rows in (amounts, signals, w))
        figures[:, part], reasons = _fitted(*(np.ascontiguousarray(rows.T) for rows in some))
        reason += reasons
    slope, intercept, se_slope, se_intercept, s, r_squared = figures
    t = float(special.stdtrit(n - 2, (1 + level) / 2))
    return Lines(
        slope=slope,
        intercept=intercept,
        se_slope=se_slope,
        se_intercept=se_intercept,
        slope_low=slope - t * se_slope,
        slope_high=slope + t * se_slope,
        intercept_low=intercept - t * se_intercept,
        intercept_high=intercept + t * se_intercept,
        residual_sd=s,
        r_squared=r_squared,
        df=n - 2,
        level=level,
        reason=tuple(reason),
    )


def _fitted(x: Floats, y: Floats, w: Floats) -> tuple[Floats, tuple[str | None, ...]]:
    """Figures (six rows) and reasons; a line in each column, so that sums run along memory."""
    n, faults = len(y), _faults(x, y, w)
    with np.errstate(all="ignore"):
        w = w * (n / w.sum(axis=0))
        x_mean, y_mean = _dot(w, x) / n, _dot(w, y) / n
        dx, dy = x - x_mean, y - y_mean
        weighted = w * dx
        s_xx = _dot(weighted, dx)
        slope = _dot(weighted, dy) / s_xx
        intercept = y_mean - slope * x_mean
        product, rest = products(x, slope)
        residual = y - product - intercept - rest
        step = _dot(weighted, residual) / s_xx
        intercept, slope = intercept + (_dot(w, residual) / n - step * x_mean), slope + step
        s = np.sqrt(_dot(w * residual, residual) / (n - 2))
        r_squared = 1 - s * s * (n - 2) / _dot(w * dy, dy)
        se_slope, se_intercept = s / np.sqrt(s_xx), s * np.sqrt(1 / n + x_mean**2 / s_xx)
        figures = np.array([slope, intercept, se_slope, se_intercept, s, r_squared])
    faults[5] = ~np.isfinite(figures).all(axis=0)
    if not faults.any():
        return figures, (None,) * y.shape[1]
    refused = faults.any(axis=0)
    figures[:, refused] = np.nan
    first = np.where(refused, faults.argmax(axis=0), -1).tolist()
    return figures, tuple(None if fault < 0 else FAULTS[fault] for fault in first)


def _faults(x: Floats, y: Floats, w: Floats) -> NDArray[np.bool_]:
    """Which of `FAULTS` each column has."""
    found = np.empty((len(FAULTS), y.shape[1]), dtype=bool)
    with np.errstate(invalid="ignore", over="ignore"):
        ends = [(values.min(axis=0), values.max(axis=0)) for values in (x, y, w)]
        largest = sum(np.abs(end) for pair in ends for end in pair)
        found[0] = ~np.isfinite(largest)
        found[1] = largest > LARGEST
        found[2] = ~(ends[2][0] > 0)
        found[3] = ends[0][0] == ends[0][1]
        found[4] = ends[1][0] == ends[1][1]
        found[5] = False  # known after the fit
    return found


def _dot(a: Floats, b: Floats) -> Floats:
    """Σ a·b down the columns."""
    return np.einsum("ij,ij->j", a, b)


def _fitting(values: ArrayLike, shape: tuple[int, ...], what: str) -> Floats:
    array = np.asarray(values, dtype=np.float64)
    if array.shape not in (shape, shape[1:]):
        raise ValueError(f"{what} of shape {array.shape} found, {shape[1:]} or {shape} needed")
    return np.atleast_2d(array)
