"""Charts with a memory: EWMA and CUSUM find small lasting shifts that single points hide."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._input import Floats, number, vector


@dataclass(frozen=True)
class Ewma:
    """z of every point with the limits that hold for it, and the positions (from 0) of signals."""

    centre: float
    z: Floats
    lower: Floats
    upper: Floats
    signals: tuple[int, ...]


@dataclass(frozen=True)
class Cusum:
    """Sums of deviations above and below, in the unit of x; positions of signals; where each shift began.

    `starts` holds, for each signal, the position after the last zero of its sum.
    """

    centre: float
    above: Floats
    below: Floats
    limit: float
    signals: tuple[int, ...]
    starts: tuple[int, ...]


def ewma(x: ArrayLike, *, centre: float, sigma: float, weight: float, width: float, settled: bool = False) -> Ewma:
    """z_i = w·x_i + (1 − w)·z_(i−1), z_0 = centre; limits centre ± L·sigma·√(w/(2 − w)·(1 − (1 − w)^(2i))).

    `weight` w in (0, 1]; `width` L, for example 0.2 with 2.962 or 0.1 with 2.814 (a false alarm in
    500 points). `settled` takes the limits of i → ∞ for all points, for which these run lengths hold.

    Raises ValueError for a weight outside (0, 1], sigma or width not above 0, a missing value.

    Source: S. W. Roberts 1959; J. M. Lucas, M. S. Saccucci, Technometrics 32 (1990) 1-12; ISO 7870-6
    (all from memory).

    >>> [round(float(z), 3) for z in ewma([1.0, 1, 1], centre=0, sigma=1, weight=0.5, width=3).z]
    [0.5, 0.75, 0.875]
    """
    values = vector(x, "point")
    middle, spread = number(centre, "the centre"), number(sigma, "sigma", above=0)
    w, wide = number(weight, "the weight", above=0), number(width, "the width", above=0)
    if w > 1:
        raise ValueError(f"the weight must lie between 0 and 1, found {w!r}")
    z, last = [], middle
    for value in values.tolist():
        last += w * (value - last)
        z.append(last)
    age = np.arange(1, len(values) + 1)
    share = 1.0 if settled else 1 - (1 - w) ** (2 * age)
    half = wide * spread * np.sqrt(w / (2 - w) * share) * np.ones(len(values))
    outside = np.flatnonzero(np.abs(np.array(z) - middle) > half)
    return Ewma(middle, np.array(z), middle - half, middle + half, tuple(int(i) for i in outside))


def cusum(x: ArrayLike, *, centre: float, sigma: float, allowance: float, decision: float) -> Cusum:
    """C⁺_i = max(0, C⁺_(i−1) + x_i − centre − k·sigma), C⁻ likewise downwards; a signal beyond h·sigma.

    `allowance` k and `decision` h in standard deviations: 0.5 and 5 (a false alarm in 465 points, a shift
    of one sigma found after 10.4), 0.5 and 4 (168 and 8.4).

    Raises ValueError for sigma or decision not above 0, a negative allowance, a missing value.

    Source: E. S. Page, Biometrika 41 (1954) 100-115; ISO 7870-4 (from memory).

    >>> cusum([0, 2, 2, 2], centre=0, sigma=1, allowance=0.5, decision=4).signals
    (3,)
    """
    values = vector(x, "point")
    middle, spread = number(centre, "the centre"), number(sigma, "sigma", above=0)
    k = number(allowance, "the allowance", not_below=0) * spread
    limit = number(decision, "the decision interval", above=0) * spread
    sums: tuple[list[float], list[float]] = ([], [])
    found: dict[int, int] = {}
    for side, direction in enumerate((1, -1)):
        last, start = 0.0, 0
        for i, value in enumerate(values.tolist()):
            last = max(0.0, last + direction * (value - middle) - k)
            if last == 0:
                start = i + 1
            elif last > limit:
                found[i] = min(start, found.get(i, start))
            sums[side].append(last)
    at = sorted(found)
    return Cusum(middle, np.array(sums[0]), np.array(sums[1]), limit, tuple(at), tuple(found[i] for i in at))
