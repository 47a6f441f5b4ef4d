"""Sums of squares that keep their digits.

Values are centred on their mean first: the difference of two nearby doubles is exact, so
a large common part (1000000000000.4) costs no digits beyond those lost when the decimals
were read as doubles. Totals use `math.fsum`, which rounds once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from validate.stats._input import Floats


def total(values: Floats) -> float:
    """Correctly rounded sum."""
    return math.fsum(values.tolist())


def centred(values: Floats) -> tuple[float, Floats]:
    """The mean and the deviations from it."""
    centre = total(values) / len(values)
    return centre, values - centre


def squared_deviations(values: Floats) -> tuple[float, float]:
    """The mean and the sum of squared deviations from it."""
    centre, deviation = centred(values)
    rest = total(deviation) / len(values)
    squares = total(deviation * deviation) - len(values) * rest * rest
    return centre + rest, max(0.0, squares)


@dataclass(frozen=True)
class Cells:
    """Group sizes, group means (as deviations from a common centre) and pooled squares within."""

    sizes: Floats
    means: Floats
    squares_within: float


def cells(deviation: Floats, codes: NDArray[np.intp]) -> Cells:
    """Means by group in two passes and the sum of squares within groups."""
    sizes = np.bincount(codes).astype(np.float64)
    means = np.bincount(codes, deviation) / sizes
    residual = deviation - means[codes]
    rest = np.bincount(codes, residual)
    squares = total(residual * residual) - total(rest * rest / sizes)
    return Cells(sizes, means + rest / sizes, max(0.0, squares))


def products(a: Floats, b: Floats) -> tuple[Floats, Floats]:
    """a·b without rounding error: the rounded products, and what rounding took from them.

    Source: T. J. Dekker, Numer. Math. 18 (1971) 224-242 (from memory).
    """
    (a_high, a_low), (b_high, b_low) = _halves(a), _halves(b)
    product = a * b
    return product, ((a_high * b_high - product) + a_high * b_low + a_low * b_high) + a_low * b_low


def _halves(values: Floats) -> tuple[Floats, Floats]:
    """Two parts of at most 26 bits each whose sum is exact."""
    shifted = values * 134217729.0  # 2^27 + 1
    high = shifted - (shifted - values)
    return high, values - high
