"""Algorithm A (location and spread together) and algorithm S (pooled spread) of ISO 13528.

Algorithm A is the fixed point of an iteration. It is found from sorted rows: which results
are winsorised decides a linear and a quadratic equation whose solution is the fixed point,
if it winsorises the same results again. Where it does not, the ordinary iteration goes on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from validate.stats._input import Floats, vector, whole_number
from validate.stats._rows import SortedRows, medians, sorted_rows
from validate.stats.robust_result import Robust, RobustRows, packed

CLIP = 1.5
EXACT = (1.482602218505602, 1.133392655462487)
"""1/Φ⁻¹(0.75), and 1/√E[min(z², 1.5²)] for a standard normal z."""
PRINTED = (1.483, 1.134)
TOLERANCE = 1e-10
MOST_ROUNDS = 1000
NOISE = 8 * np.finfo(np.float64).eps
"""Results that differ by no more than this share of the largest differ by the rounding of doubles alone."""
DIRECT_ROUNDS = 12
"""Rounds in which the solution for the winsorised set is tried as the next step."""


def algorithm_a(x: ArrayLike, *, printed: bool = False) -> Robust | RobustRows:
    """Robust mean x* and standard deviation s* by winsorising at x* ± 1.5·s*.

    Start: x* = median, s* = 1.4826·median|x − x*|. Round: δ = 1.5·s*; results beyond
    x* ± δ are drawn in to it; x* = mean of them, s* = 1.1334·√(Σ(x_i* − x*)²/(p − 1)).
    Ends at |Δx*|, |Δs*| ≤ 1e-10 of the first s*. Where the start is 0 (half of the results
    equal, but for the rounding of doubles) it is the ordinary SD (from memory: ISO 13528:2015 C.3, note).

    `x`: p results, or an array with one measurand in each row and NaN for no result.
    `printed=True` takes the constants as printed, 1.483 and 1.134; s* then differs by about
    5 parts in 10,000. p ≥ 3; ValueError otherwise (in an array the row gets a `reason`).
    `degenerate` when s* tends to 0, which needs more than about 65 % identical results.

    Assumes that the sound results are unimodal and roughly symmetric. Breakdown: about 20 %
    of results on one side already pull s* far up.

    Source: ISO 13528:2015 C.3 (constants and steps read in a copy of ISO 13528:2005 C.1).

    >>> found = algorithm_a([-1.0, 0.0, 0.0, 1.0, 50.0], printed=True)
    >>> round(found.mean, 4), round(found.sd, 4)
    (0.9714, 2.5905)
    """
    rows = sorted_rows(x, at_least=3)
    median_factor, spread_factor = PRINTED if printed else EXACT
    mean, sd, rounds = np.full(len(rows.n), np.nan), np.full(len(rows.n), np.nan), np.zeros(len(rows.n), dtype=np.intp)
    usable = np.flatnonzero(rows.usable)
    if usable.size:
        chosen = rows if len(usable) == len(rows.n) else _some(rows, usable)
        found = fixed_point(chosen, clip=CLIP, median_factor=median_factor, spread_factor=spread_factor)
        mean[usable], sd[usable], rounds[usable] = found
    return packed(rows, mean, sd, rounds)


def fixed_point(
    rows: SortedRows, *, clip: float, median_factor: float, spread_factor: float
) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """Mean, spread (0 when degenerate) and rounds of every row; ValueError without convergence."""
    centre = medians(rows.values, rows.n)
    d = rows.values - centre[:, None]
    start = median_factor * medians(np.sort(np.abs(d), axis=1), rows.n)
    np.nan_to_num(d, copy=False, nan=np.inf)
    noise = NOISE * np.maximum(np.abs(rows.values[:, 0]), np.abs(rows.values[np.arange(len(start)), rows.n - 1]))
    for i in np.flatnonzero(start <= noise):
        spread = np.std(d[i, : rows.n[i]], ddof=1)
        start[i] = spread if spread > noise[i] else 0.0
    mean, sd, rounds = np.zeros(len(start)), np.zeros(len(start)), np.zeros(len(start), dtype=np.intp)
    state = _State.begin(d, rows.n, start, clip, spread_factor)
    for number in range(1, MOST_ROUNDS + 1):
        if not state.index.size:
            return centre + mean, sd, rounds
        ended, at, spread = state.step(direct=number <= DIRECT_ROUNDS)
        done = state.index[ended]
        mean[done], sd[done], rounds[done] = at[ended], spread[ended], number
        state.keep(~ended, at, spread)
    raise ValueError(f"{state.index.size} of {len(start)} rows did not converge in {MOST_ROUNDS} rounds")


@dataclass
class _State:
    """Rows still in work: centred sorted values (infinite behind the last), x* and s* so far, s* at the start."""

    index: NDArray[np.intp]
    d: Floats
    n: NDArray[np.intp]
    mean: Floats
    sd: Floats
    start: Floats
    clip: float
    factor: float

    @classmethod
    def begin(cls, d: Floats, n: NDArray[np.intp], start: Floats, clip: float, factor: float) -> _State:
        work = np.flatnonzero(start > 0)
        chosen = (d, n, start) if work.size == len(start) else (d[work], n[work], start[work])
        return cls(work, chosen[0], chosen[1], np.zeros(work.size), chosen[2], chosen[2], clip, factor)

    def keep(self, which: NDArray[np.bool_], mean: Floats, sd: Floats) -> None:
        self.mean, self.sd = mean[which], sd[which]
        if not which.all():
            for name in ("index", "d", "n", "start"):
                setattr(self, name, getattr(self, name)[which])

    def step(self, *, direct: bool) -> tuple[NDArray[np.bool_], Floats, Floats]:
        """Which rows have ended, and x* and s* after this round (s* = 0: it tends to 0)."""
        delta = self.clip * self.sd
        kept = _Kept.between(self.d, self.n, self.mean - delta, self.mean + delta)
        scale = (self.n - 1) / self.factor**2
        room = scale - self.clip**2 * ((kept.high - kept.low) ** 2 / kept.size + kept.low + kept.high)
        possible = ~kept.identical & (room > 0)
        sd = np.sqrt(np.where(possible, kept.scatter, 0.0) / np.where(possible, room, 1.0))
        mean = kept.mean + (kept.high - kept.low) * self.clip * sd / kept.size
        again = (sd > 0) & kept.again(mean - self.clip * sd, mean + self.clip * sd)
        plain_mean, plain_sd = self._iterated(kept, delta, scale)
        limit = TOLERANCE * self.start
        settled = (np.abs(plain_mean - self.mean) <= limit) & (np.abs(plain_sd - self.sd) <= limit)
        use = again | (direct & (sd > 0))
        mean, sd = np.where(use, mean, plain_mean), np.where(use, sd, plain_sd)
        vanished = (kept.identical & (room > 0)) | (sd < 1e-6 * self.start)
        return again | settled | vanished, np.where(vanished, 0.0, mean), np.where(vanished, 0.0, sd)

    def _iterated(self, kept: _Kept, delta: Floats, scale: Floats) -> tuple[Floats, Floats]:
        """One round of the iteration as the standard writes it."""
        lower, upper = self.mean - delta, self.mean + delta
        mean = ((self.n - kept.low - kept.high) * kept.mean + kept.low * lower + kept.high * upper) / self.n
        spread = kept.scatter + (self.n - kept.low - kept.high) * (kept.mean - mean) ** 2
        spread += kept.low * (lower - mean) ** 2 + kept.high * (upper - mean) ** 2
        return mean, np.sqrt(spread / scale)


@dataclass(frozen=True)
class _Kept:
    """The results of each row that are not winsorised: from column `low` to before `end`.

    `high` results are drawn down, `low` up; `size` is at least 1; `scatter` is Σ(x − mean)².
    """

    d: Floats
    n: NDArray[np.intp]
    low: NDArray[np.intp]
    end: NDArray[np.intp]
    mean: Floats
    scatter: Floats

    @classmethod
    def between(cls, d: Floats, n: NDArray[np.intp], lower: Floats, upper: Floats) -> _Kept:
        low, end = np.count_nonzero(d < lower[:, None], axis=1), np.count_nonzero(d <= upper[:, None], axis=1)
        columns = np.arange(d.shape[1])
        middle = np.where((columns >= low[:, None]) & (columns < end[:, None]), d, 0.0)
        size = np.maximum(end - low, 1)
        mean = middle.sum(axis=1) / size
        squares = np.einsum("ij,ij->i", middle, middle)
        scatter = squares - size * mean**2
        for i in np.flatnonzero(scatter < 1e-6 * squares):  # too much cancels: centre first
            scatter[i] = np.sum((d[i, low[i] : end[i]] - mean[i]) ** 2)
        return cls(d, n, low, end, mean, scatter)

    @property
    def high(self) -> NDArray[np.intp]:
        return self.n - self.end

    @property
    def size(self) -> NDArray[np.intp]:
        return np.maximum(self.end - self.low, 1)

    @property
    def identical(self) -> NDArray[np.bool_]:
        """No scatter is left: one value, or none."""
        rows = np.arange(len(self.n))
        first, last = np.minimum(self.low, self.n - 1), np.maximum(self.end - 1, 0)
        return (self.end <= self.low) | (self.d[rows, first] == self.d[rows, last])

    def again(self, lower: Floats, upper: Floats) -> NDArray[np.bool_]:
        """Whether these limits keep exactly the same results."""
        rows, d = np.arange(len(self.n)), self.d
        inside = (d[rows, np.minimum(self.low, self.n - 1)] >= lower) & (d[rows, np.maximum(self.end - 1, 0)] <= upper)
        below = (self.low == 0) | (d[rows, np.maximum(self.low - 1, 0)] < lower)
        above = (self.end == self.n) | (d[rows, np.minimum(self.end, d.shape[1] - 1)] > upper)
        return inside & below & above


def _some(rows: SortedRows, index: NDArray[np.intp]) -> SortedRows:
    return SortedRows(rows.values[index], rows.n[index], rows.single, tuple(rows.reasons[i] for i in index))


def algorithm_s(sds: ArrayLike, df: int) -> float:
    """Robust pooled standard deviation w* of p standard deviations with `df` each.

    Start: w* = median. Round: ψ = η·w*, larger ones are drawn in to ψ, w* = ξ·√(Σw_i²/p),
    with η = √(χ²₀.₉,ν/ν) and ξ = 1/√(P(χ²_ν+2 ≤ ν·η²) + 0.1·η²). For ranges of duplicates
    df = 1 and the result is for ranges. Needs equal df, at least 2 values, none negative;
    ValueError otherwise, and when half of them are 0.

    Source: ISO 13528:2015 C.4, ISO 5725-5:1998 (from memory; η and ξ from their definition).

    >>> round(algorithm_s([0.3, 0.4, 0.35, 0.28, 1.9], 1), 4)
    0.5575
    """
    values = np.sort(vector(sds, "standard deviation", at_least=2))
    nu = whole_number(df, "df", at_least=1)
    if values[0] < 0:
        raise ValueError("a standard deviation cannot be negative")
    eta = math.sqrt(special.chdtri(nu, 0.1) / nu)
    xi = 1 / math.sqrt(special.chdtr(nu + 2, nu * eta**2) + 0.1 * eta**2)
    spread = start = float(np.median(values))
    if start == 0:
        raise ValueError("half of the standard deviations are 0: nothing can be pooled")
    for _ in range(MOST_ROUNDS):
        before = spread
        spread = xi * math.sqrt(float(np.mean(np.minimum(values, eta * before) ** 2)))
        if abs(spread - before) <= TOLERANCE * start:
            return spread
    raise ValueError(f"no convergence in {MOST_ROUNDS} rounds")
