"""What a robust estimator of location and spread gives back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from validate.stats._input import Floats
from validate.stats._rows import SortedRows

IDENTICAL = "more than about 65 % of results identical"


@dataclass(frozen=True)
class Robust:
    """Location and spread of one row of `n` results.

    `degenerate`: the spread came out as 0; `mean` is then the median, `sd` None, and `reason`
    says why. No score may rest on such a spread.
    """

    mean: float
    sd: float | None
    n: int
    iterations: int = 0
    degenerate: bool = False
    reason: str = ""


@dataclass(frozen=True)
class RobustRows:
    """The same for every row of an array; NaN stands beside a `reason`."""

    mean: Floats
    sd: Floats
    n: NDArray[np.intp]
    iterations: NDArray[np.intp]
    degenerate: NDArray[np.bool_]
    reason: tuple[str, ...]


def packed(
    rows: SortedRows,
    mean: Floats,
    sd: Floats,
    iterations: NDArray[np.intp] | None = None,
    *,
    degenerate_because: str = IDENTICAL,
) -> Robust | RobustRows:
    """One result for one row, arrays for many. A spread of 0 or NaN in a usable row is degenerate."""
    rounds = np.zeros(len(mean), dtype=np.intp) if iterations is None else iterations
    degenerate = rows.usable & ~(sd > 0)
    reasons = tuple(degenerate_because if bad else why for bad, why in zip(degenerate, rows.reasons, strict=True))
    if rows.single:
        spread = None if degenerate[0] else float(sd[0])
        return Robust(float(mean[0]), spread, int(rows.n[0]), int(rounds[0]), bool(degenerate[0]), reasons[0])
    return RobustRows(mean, np.where(degenerate, np.nan, sd), rows.n, rounds, degenerate, reasons)
