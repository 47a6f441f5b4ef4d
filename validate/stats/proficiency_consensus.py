"""An assigned value from the results of a round, by a method that was named before the round."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._input import count, number, vector
from validate.stats.proficiency_modes import consensus_modes
from validate.stats.robust import Robust, algorithm_a, median_mad, q_method, scaled_iqr

By = Literal["algorithm A", "Q method", "median, MADe", "median, nIQR", "kernel mode", "mean"]
FEWEST = 5
FEWEST_FOR_MEDIAN = 12
"""u = 1.25·s/√p with MADe covers 79 % (p = 5), 88 % (8), 90 % (12) instead of 95 %: refused below."""
MOST_CENSORED = 0.4
FACTOR = 1.25
"""√(π/2) = 1.2533, rounded as ISO 13528 does."""
SPREADS = {"algorithm A": algorithm_a, "Q method": q_method, "median, MADe": median_mad, "median, nIQR": scaled_iqr}


@dataclass(frozen=True)
class AssignedValue:
    """`value` with standard uncertainty `u` by `method`, from `n` results whose robust spread is `sd`."""

    value: float
    u: float
    method: str
    n: int
    sd: float | None
    formula: str


def assigned_value(
    x: ArrayLike, *, by: By, sigma: float | None = None, seed: int | None = None, censored_low: int = 0
) -> AssignedValue:
    """Consensus of the results, and its standard uncertainty.

    "algorithm A", "Q method" (Hampel's mean), "median, MADe", "median, nIQR": u = 1.25·s*/√p.
    "kernel mode": the highest mode at bandwidth 0.75·`sigma`, u its bootstrap standard error
    (`seed` recorded). "mean": mean of expert laboratories, u = s/√p, p ≥ 2.

    `censored_low`: how many results were only reported as below a limit. They rank lowest
    for the two medians (at most 40 % of all); every other consensus leaves them out, which
    is refused from 5 % on.

    ValueError: fewer than 5 results (12 for the medians), too many censored, a degenerate
    spread, or a missing `sigma` or `seed`. Assumes results that agree but for scatter and
    few blunders; with two populations a consensus means nothing.

    Source: ISO 13528:2015 7.7 (from memory); coverage of u by simulation.

    >>> found = assigned_value([9.8, 10.1, 10.0, 10.3, 9.9, 14.0], by="algorithm A")
    >>> round(found.value, 3), round(found.u, 3)
    (10.126, 0.18)
    """
    if by not in get_args(By):
        raise ValueError(f"by must be one of {', '.join(get_args(By))}; found {by!r}")
    values = vector(x, "result")
    if by == "mean":
        return _mean(values)
    total = len(values) + censored_low
    fewest = FEWEST_FOR_MEDIAN if by.startswith("median") else FEWEST
    if total < fewest:
        raise ValueError(f"{count(total, 'result')} found, at least {fewest} needed for a consensus by {by}")
    _refuse_censored(by, censored_low, total)
    if by == "kernel mode":
        return _mode(values, sigma, seed)
    if censored_low and by.startswith("median"):
        values = np.concatenate((_ranked_lowest(values, censored_low), values))
    found: Robust = SPREADS[by](values)
    if found.sd is None:
        raise ValueError(f"no spread can be computed: {found.reason}")
    u = FACTOR * found.sd / math.sqrt(found.n)
    return AssignedValue(found.mean, u, by, found.n, found.sd, "1.25 · {s} / √({p})")


def _refuse_censored(by: str, censored: int, total: int) -> None:
    share = censored / total
    if by.startswith("median"):
        if share > MOST_CENSORED:
            raise ValueError(f"{censored} of {total} results are below a limit, at most 40 % allow a median")
    elif share >= 0.05:
        raise ValueError(f"{censored} of {total} results are below a limit, less than 5 % may be left out")


def _ranked_lowest(values: np.ndarray, censored: int) -> np.ndarray:
    """Stand-ins below every number: the median does not see how far, MADe and quartiles above them neither."""
    return np.full(censored, values.min() - (np.ptp(values) or 1.0))


def _mean(values: np.ndarray) -> AssignedValue:
    if len(values) < 2:
        raise ValueError("1 result found, at least 2 needed for a mean with its uncertainty")
    sd = float(np.std(values, ddof=1))
    return AssignedValue(float(np.mean(values)), sd / math.sqrt(len(values)), "mean", len(values), sd, "{s} / √({p})")


def _mode(values: np.ndarray, sigma: float | None, seed: int | None) -> AssignedValue:
    if sigma is None or seed is None:
        raise ValueError("the kernel mode needs sigma (for its bandwidth) and a seed (for its bootstrap)")
    highest = consensus_modes(values, number(sigma, "σ", above=0), seed=seed).modes[0]
    if highest.se_location is None:
        raise ValueError("the mode has no standard error: no resample has a mode there")
    return AssignedValue(highest.location, highest.se_location, "kernel mode", len(values), None, "SD over resamples")
