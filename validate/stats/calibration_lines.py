"""Many calibration lines in one call: an analyte a row."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import LARGEST, Floats, confidence


@dataclass(frozen=True)
class Lines:
    """The results of `calibration_line.line` as arrays, one entry a row.

    `slope_low`, `slope_high`, `intercept_low`, `intercept_high` are limits at `level`.
    `residuals` has the shape of `y`. `reason` holds None, or why the row has no line; its
    numbers are then NaN. `df` is the same for all rows.
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
    residuals: Floats
    df: int
    level: float
    reason: tuple[str | None, ...]


def lines(x: ArrayLike, y: ArrayLike, weights: ArrayLike | None = None, *, level: float = 0.95) -> Lines:
    """Fit y = a + b·x to every row of `y`; formulas as for `calibration_line.line`.

    `y`: k × n signals. `x`, `weights`: n values shared by all rows, or k × n. Sums are taken
    about the weighted means, without the refinement that `line` adds.

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
    columns = signals.T.copy()
    amounts = _columns(x, signals.shape, "x")
    w = np.ones((n, 1)) if weights is None else _columns(weights, signals.shape, "weights")
    reason = _reasons(amounts, columns, w)
    with np.errstate(all="ignore"):
        return _fitted(amounts, columns, w, level, reason)


def _fitted(x: Floats, y: Floats, w: Floats, level: float, reason: tuple[str | None, ...]) -> Lines:
    """All arrays have a line in each column: sums down columns run along memory."""
    n = len(y)
    df = n - 2
    w = w * (n / w.sum(axis=0))
    x_mean, y_mean = (w * x).sum(axis=0) / n, (w * y).sum(axis=0) / n
    dx, dy = x - x_mean, y - y_mean
    wdx = w * dx
    s_xx = (wdx * dx).sum(axis=0)
    slope = (wdx * dy).sum(axis=0) / s_xx
    residual = dy - slope * dx
    squares, about = (w * residual**2).sum(axis=0), (w * dy**2).sum(axis=0)
    s = np.sqrt(squares / df)
    intercept, se_slope = y_mean - slope * x_mean, s / np.sqrt(s_xx)
    se_intercept = s * np.sqrt(1 / n + x_mean**2 / s_xx)
    r_squared = 1 - squares / about
    refused = [row for row, text in enumerate(reason) if text is not None]
    for values in (slope, intercept, se_slope, se_intercept, s, r_squared, residual):
        values[..., refused] = np.nan
    t = float(special.stdtrit(df, (1 + level) / 2))
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
        residuals=residual.T,
        df=df,
        level=level,
        reason=reason,
    )


def _columns(values: ArrayLike, shape: tuple[int, int], what: str) -> Floats:
    """k × n values as n × k, shared ones as n × 1."""
    array = np.asarray(values, dtype=np.float64)
    if array.shape not in (shape, shape[1:]):
        raise ValueError(f"{what} of shape {array.shape} found, {shape[1:]} or {shape} needed")
    return np.ascontiguousarray(np.atleast_2d(array).T)


def _reasons(x: Floats, y: Floats, w: Floats) -> tuple[str | None, ...]:
    """Why a line cannot be fitted, or None; only columns with a fault cost time."""
    with np.errstate(invalid="ignore"):
        largest = np.abs(y).max(axis=0) + np.abs(x).max(axis=0) + np.abs(w).max(axis=0)
    faults = (
        ("a missing or infinite number", ~np.isfinite(largest)),
        ("a number too large to be squared", largest > LARGEST),
        ("a weight that is not above 0", ~(w.min(axis=0) > 0)),
        ("all x are equal", x.min(axis=0) == x.max(axis=0)),
        ("the signals do not vary", y.min(axis=0) == y.max(axis=0)),
    )
    reason: list[str | None] = [None] * y.shape[1]
    for text, fault in reversed(faults):
        for column in np.flatnonzero(np.broadcast_to(fault, len(reason))).tolist():
            reason[column] = text
    return tuple(reason)
