"""Uncertainty over the working range: absolute at low levels, relative at high ones."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._input import Floats, number, vector

ROUNDS = 100


@dataclass(frozen=True)
class LevelModel:
    """u(x)² = absolute² + (relative_percent·x/100)². Exact at the levels only if the two describe them.

    `ratios`: found u over model at the levels it was fitted to (empty when typed in).
    """

    absolute: float
    relative_percent: float
    ratios: tuple[float, ...] = ()

    def at(self, x: ArrayLike) -> Floats | float:
        """The standard uncertainty at `x` (not below 0), in the unit of x."""
        level = np.asarray(x, dtype=np.float64)
        if np.any(level < 0) or not np.all(np.isfinite(level)):
            raise ValueError("a level must be a number that is not below 0")
        u = np.hypot(self.absolute, self.relative_percent / 100 * level)
        return u if u.ndim else float(u)

    @property
    def turning_level(self) -> float | None:
        """The level at which both parts are equal; None when one of them is 0."""
        if self.absolute == 0 or self.relative_percent == 0:
            return None
        return 100 * self.absolute / self.relative_percent


def level_model(levels: ArrayLike, u: ArrayLike) -> LevelModel:
    """Fit u² = s0² + (s1·x)² to standard uncertainties found at q ≥ 2 levels.

    Least squares of the relative differences of u², weights 1/(fitted u²)² renewed until
    they stay, neither part below 0: the right weights when each u rests on about as many
    results. `levels`, `u`: one unit; `relative_percent` = 100·s1.

    Raises ValueError for fewer than 2 levels or all levels equal, lengths that differ, a
    negative level, a u that is not above 0.

    Source: EURACHEM/CITAC Guide CG 4 (2012) appendix E.5 for the form (from memory).

    >>> model = level_model([0, 10, 100], [0.3, 0.5, 4.01123])
    >>> round(model.absolute, 4), round(model.relative_percent, 4), round(model.turning_level, 3)
    (0.3, 4.0, 7.5)
    """
    x, found = vector(levels, "level", at_least=2), vector(u, "u")
    if len(x) != len(found):
        raise ValueError(f"{len(x)} levels and {len(found)} u found; one each is needed")
    if np.any(x < 0) or np.any(found <= 0):
        raise ValueError("a level must not be below 0, and a u must be above 0")
    if float(np.ptp(x)) == 0:
        raise ValueError("1 different level found, at least 2 needed")
    square, form = found**2, np.column_stack([np.ones(len(x)), x**2])
    fitted = square
    for _ in range(ROUNDS):
        parts = _not_negative(form / fitted[:, None], square / fitted)
        new = form @ parts
        if np.all(new > 0) and np.all(np.abs(new - fitted) <= 1e-12 * fitted):
            break
        fitted = np.maximum(new, 1e-300)
    model = LevelModel(math.sqrt(parts[0]), 100 * math.sqrt(parts[1]))
    return LevelModel(model.absolute, model.relative_percent, tuple((found / model.at(x)).tolist()))


def _not_negative(form: Floats, target: Floats) -> Floats:
    """Least squares of two coefficients, neither below 0."""
    best = np.linalg.lstsq(form, target, rcond=None)[0]
    if np.all(best >= 0):
        return best
    single = []
    for column in range(2):
        one = np.zeros(2)
        one[column] = max(0.0, float(form[:, column] @ target) / float(form[:, column] @ form[:, column]))
        single.append(one)
    return min(single, key=lambda parts: float(np.sum((target - form @ parts) ** 2)))


def fitness_uncertainty(x: float, *, lod: float, alpha: float) -> float:
    """Largest standard uncertainty that is fit for control: u_f = √((lod/2)² + (alpha·x)²).

    `x`, `lod`: mass fractions in one unit; `alpha` by the level, 0.2 up to 50 µg/kg to 0.1
    above 10,000 µg/kg (the printed table leaves gaps between its rows, so the caller chooses).

    Raises ValueError for a negative x, lod or alpha.

    Source: Regulation (EC) No 401/2006 Annex II 4.3.1.2 (formula from memory).

    >>> round(fitness_uncertainty(2, lod=0.2, alpha=0.2), 5)
    0.41231
    """
    level, limit = number(x, "x", not_below=0), number(lod, "lod", not_below=0)
    return math.hypot(limit / 2, number(alpha, "alpha", not_below=0) * level)
