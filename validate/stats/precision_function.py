"""Precision as a function of the level: the three forms of ISO 5725-2.

A diagnostic: which form describes the standard deviations found at q levels. No form is
chosen here, and with few levels none can be told from another.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._input import vector

Form = Literal["proportional", "linear", "power"]
ROUNDS = 3
"""Reweighting rounds of the linear form; ISO 5725-2 finds that one or two suffice."""


@dataclass(frozen=True)
class PrecisionFunction:
    """s = slope·m; s = intercept + slope·m; lg s = intercept + slope·lg m.

    `fitted` are the standard deviations at the levels, `residual_percent` the root mean
    square of 100·(s − fitted)/fitted over the levels.
    """

    form: Form
    intercept: float
    slope: float
    fitted: tuple[float, ...]
    residual_percent: float

    def at(self, mean: ArrayLike) -> np.ndarray:
        """The standard deviation that the form gives at `mean` (above 0)."""
        m = np.asarray(mean, dtype=float)
        if self.form == "power":
            return 10 ** (self.intercept + self.slope * np.log10(m))
        return self.intercept + self.slope * m


def precision_function(mean: ArrayLike, sd: ArrayLike, *, form: Form) -> PrecisionFunction:
    """Fit one of the three forms to the standard deviations `sd` found at the general means `mean`.

    `"proportional"` (form I): slope = Σ(s/m)/q. `"linear"` (II): weighted least squares
    with weights 1/ŝ², ŝ from the round before (at first the found s), three rounds.
    `"power"` (III): least squares of lg s on lg m.

    `mean`, `sd`: one value for each of q ≥ 3 levels, same unit, all above 0; ValueError
    otherwise, when all means are equal, or when the linear form falls to 0 within the levels.

    Source: ISO 5725-2:1994, 7.5 (from memory).

    >>> fit = precision_function([1.0, 2.0, 4.0], [0.1, 0.2, 0.4], form="power")
    >>> round(fit.intercept, 6), round(fit.slope, 6)
    (-1.0, 1.0)
    """
    m, s = vector(mean, "mean", at_least=3), vector(sd, "standard deviation", at_least=3)
    if m.shape != s.shape:
        raise ValueError(f"{m.size} means found for {s.size} standard deviations")
    if (m <= 0).any() or (s <= 0).any():
        raise ValueError("means and standard deviations must be above 0")
    if np.ptp(m) == 0:
        raise ValueError("all means are equal")
    if form == "proportional":
        intercept, slope = 0.0, float(np.mean(s / m))
    elif form == "power":
        intercept, slope = _line(np.log10(m), np.log10(s), np.ones_like(m))
    elif form == "linear":
        intercept, slope = _linear(m, s)
    else:
        raise ValueError(f"unknown form {form!r}; one of proportional, linear, power is needed")
    fit = PrecisionFunction(form, intercept, slope, (), 0.0)
    fitted = fit.at(m)
    rms = float(np.sqrt(np.mean((100 * (s - fitted) / fitted) ** 2)))
    return PrecisionFunction(form, intercept, slope, tuple(fitted.tolist()), rms)


def _linear(m: np.ndarray, s: np.ndarray) -> tuple[float, float]:
    fitted = s
    for _ in range(ROUNDS):
        intercept, slope = _line(m, s, 1 / fitted**2)
        fitted = intercept + slope * m
        if (fitted <= 0).any():
            raise ValueError("the linear form gives no positive standard deviation at every level")
    return intercept, slope


def _line(x: np.ndarray, y: np.ndarray, weights: np.ndarray) -> tuple[float, float]:
    w = weights / weights.sum()
    x_mean, y_mean = float(np.sum(w * x)), float(np.sum(w * y))
    slope = float(np.sum(w * (x - x_mean) * (y - y_mean)) / np.sum(w * (x - x_mean) ** 2))
    return y_mean - slope * x_mean, slope
