"""Passing and Bablok's line: a median of the slopes between all pairs of points."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import Floats, confidence
from validate.stats.comparison_deming import pairs
from validate.stats.comparison_directions import Directions
from validate.stats.comparison_resampling import Lines, percentiles, resampled_lines, slope_of
from validate.stats.intervals import Limits

FEWEST, FEWEST_FOR_RANKS, MOST = 5, 30, 20_000
BY_RANKS, BY_BOOTSTRAP = "ranks of the slopes (Passing and Bablok)", "bootstrap of the samples, percentiles"
MOST_TIES = 0.10
"""Share of pairs with equal x or equal y beyond which a warning stands in the result."""


@dataclass(frozen=True)
class PassingBablok:
    """y = intercept + slope · x by ranks; no standard errors, limits from ranks or by bootstrap.

    `slopes` counts those that the median is taken of; an upper limit that passes the vertical
    is infinite. `why_bootstrap` says why the ranks gave no limits; `warnings` what to mind.
    """

    slope: float
    intercept: float
    slope_limits: Limits
    intercept_limits: Limits
    n: int
    slopes: int
    middle: tuple[float, float]
    """The slope in the middle, or the two whose geometric mean is taken."""
    kendall_tau: float
    tied_share: float
    ranks: tuple[int, int] | None = None
    """Places of the limits of the slope in ascending order, slopes below −1 last; None with the bootstrap."""
    why_bootstrap: str = ""
    warnings: tuple[str, ...] = ()
    x: Floats = field(repr=False, compare=False, default_factory=lambda: np.array([]))
    y: Floats = field(repr=False, compare=False, default_factory=lambda: np.array([]))

    @cached_property
    def resampled(self) -> Lines:
        """Lines of bootstrap samples, drawn once."""
        return resampled_lines(self.x, self.y)


def passing_bablok(x: ArrayLike, y: ArrayLike, *, level: float = 0.95) -> PassingBablok:
    """Line from the slopes (y_j − y_i)/(x_j − x_i) of all pairs; x and y may change places.

    Identical points and slopes of exactly −1 are left out; N slopes remain, infinite ones
    (equal x) by the sign of Δy among them; K of them lie below −1. slope = the median shifted
    by K: S₍(N+1)/2+K₎, for even N the geometric mean of the two in the middle (so that exchanging
    x and y turns the slope over); intercept = median(y − slope·x). Limits of the slope: ranks
    M₁ + K and N − M₁ + 1 + K, M₁ = (N − C)/2 to the nearest whole number, C = z·√(n(n−1)(2n+5)/18);
    of the intercept: median(y − limit·x). For n < 30, or where a rank falls outside 1 … N, limits
    are percentiles of 2000 bootstrap samples (seed 20310303), and the result says so.

    `x`, `y`: 5 to 20,000 numbers each, in a linear relation; errors of any distribution, in
    a constant ratio of their scatter. Memory grows with n, time with n².

    Raises ValueError for other numbers of points, a missing value, Kendall's τ ≤ 0, or a middle
    slope that is not above 0 and finite (too many equal values).

    Source: H. Passing, W. Bablok, J. Clin. Chem. Clin. Biochem. 21 (1983) 709-720 (from memory);
    geometric mean for even N: so that the promise on exchange holds exactly.

    >>> found = passing_bablok([1.0, 2, 3, 4, 5, 6], [2.1, 4.0, 6.2, 8.0, 10.1, 11.9])
    >>> round(found.slope, 4), round(found.intercept, 4)
    (1.9667, 0.1333)
    """
    first, second = pairs(x, y, at_least=FEWEST)
    n = first.size
    if n > MOST:
        raise ValueError(f"{n} points found, at most {MOST} are possible: take a random part of them")
    directions = Directions(first, second)
    tau = _kendall_tau(directions)
    c = float(special.ndtri((1 + confidence(level)) / 2)) * math.sqrt(n * (n - 1) * (2 * n + 5) / 18)
    rank = math.floor((directions.kept - c) / 2 + 0.5)
    if 1 <= rank <= directions.kept:
        directions.at([*_middle_ranks(directions), rank, directions.kept - rank + 1])  # found together in one search
    middle = _middle(directions)
    slope = math.sqrt(middle[0] * middle[1])
    intercept = float(np.median(second - slope * first))
    limits, why = _limits_by_ranks(first, second, directions, rank, level)
    if limits is None:
        limits = _limits_by_bootstrap(first, second, level)
    tied = (directions.vertical + directions.horizontal + directions.identical) / directions.pairs
    steps = f"{100 * tied:.0f} % of the pairs have equal values in x or y: the limits lean on the steps of the readings"
    return PassingBablok(
        slope=slope,
        intercept=intercept,
        slope_limits=limits[0],
        intercept_limits=limits[1],
        n=n,
        slopes=directions.kept,
        middle=middle,
        kendall_tau=tau,
        tied_share=tied,
        ranks=None if why else (rank, directions.kept - rank + 1),
        why_bootstrap=why,
        warnings=(steps,) if tied > MOST_TIES else (),
        x=first,
        y=second,
    )


def _kendall_tau(directions: Directions) -> float:
    """Kendall's τ_b; ValueError where it is not above 0."""
    found = directions.concordant - directions.discordant
    with_x = directions.pairs - directions.vertical - directions.identical
    with_y = directions.pairs - directions.horizontal - directions.identical
    if found <= 0:
        raise ValueError("x and y do not rise together (Kendall's τ is not above 0): there is no line")
    return found / math.sqrt(with_x * with_y)


def _middle_ranks(directions: Directions) -> list[int]:
    return [(directions.kept + 1) // 2, directions.kept // 2 + 1]


def _middle(directions: Directions) -> tuple[float, float]:
    low, high = directions.at(_middle_ranks(directions))
    if not (low > -1 and high < 1):
        raise ValueError("the middle slope is level, vertical or falling: too many equal values, or no relation")
    return slope_of(low), slope_of(high)


def _limits_by_ranks(
    x: Floats, y: Floats, directions: Directions, rank: int, level: float
) -> tuple[tuple[Limits, Limits] | None, str]:
    if x.size < FEWEST_FOR_RANKS:
        return None, f"{x.size} points, fewer than {FEWEST_FOR_RANKS}"
    if not 1 <= rank <= directions.kept:
        return None, "the ranks of the limits lie outside the slopes that are left"
    low, high = directions.at([rank, directions.kept - rank + 1])
    if high >= 1:
        return None, "the ranks of the limits lie outside the slopes that are left"
    ends = slope_of(low), slope_of(high)
    intercepts = [float(np.median(y - end * x)) for end in ends]
    return (Limits(*ends, level, BY_RANKS), Limits(min(intercepts), max(intercepts), level, BY_RANKS)), ""


def _limits_by_bootstrap(x: Floats, y: Floats, level: float) -> tuple[Limits, Limits]:
    lines = resampled_lines(x, y)
    # In the order of directions a slope beyond the vertical is the largest.
    turns = percentiles(lines.directions, level)
    ends = [slope_of(turn) if turn < 1 else math.inf for turn in turns]
    return Limits(ends[0], ends[1], level, BY_BOOTSTRAP), Limits(
        *percentiles(lines.intercepts, level), level, BY_BOOTSTRAP
    )
