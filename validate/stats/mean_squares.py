"""Mean squares of unweighted means, and the variances that are built from them.

For a balanced design these are the mean squares of the analysis of variance, divided by
their multiplicity. For an unbalanced one they come from the means of the innermost cells,
each counted once, with harmonic means of the counts; the intervals of `variance_sums` keep
their coverage there (checked by simulation), those from weighted mean squares do not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import prod

import numpy as np
from numpy.typing import ArrayLike

from validate.stats.variance_sums import VarianceLimits, difference_limits, satterthwaite_limits, sum_limits

WITHIN = "within"


@dataclass(frozen=True)
class Decomposition:
    """Independent mean squares on the scale of cell means, and variances as their combinations.

    `squares[i]` on `dfs[i]` degrees of freedom belongs to `effects[i]`; the last effect is
    `within` the cells. `components[effect]` and `sums[i]` hold one coefficient per mean
    square: `sums[0]` is the variance of a result when the innermost effect varies, the last
    one the variance when everything does.
    """

    effects: tuple[str, ...]
    squares: tuple[float, ...]
    dfs: tuple[int, ...]
    components: Mapping[str, tuple[float, ...]]
    sums: tuple[tuple[float, ...], ...]
    n_harmonic: float

    def sum_parts(self, index: int = -1) -> tuple[tuple[float, ...], tuple[int, ...]]:
        """The scaled mean squares and degrees of freedom whose sum is the variance `sums[index]`."""
        chosen = [(c * s, df) for c, s, df in zip(self.sums[index], self.squares, self.dfs, strict=True) if c > 0]
        return tuple(part for part, _ in chosen), tuple(df for _, df in chosen)

    def sum_limits(self, index: int = -1, *, level: float) -> VarianceLimits:
        """MLS limits of the variance `sums[index]`."""
        return sum_limits(*self.sum_parts(index), level=level)

    def satterthwaite_limits(self, index: int = -1, *, level: float) -> VarianceLimits:
        """Satterthwaite limits of the variance `sums[index]`."""
        return satterthwaite_limits(*self.sum_parts(index), level=level)

    def component(self, effect: str) -> float:
        """The variance of one effect as estimated, negative or not."""
        return sum(c * s for c, s in zip(self.components[effect], self.squares, strict=True))

    def component_limits(self, effect: str, *, level: float) -> VarianceLimits:
        """MLS limits of one component, truncated at 0.

        Where a component takes more than two mean squares, those of one sign are first
        added, with Satterthwaite's degrees of freedom.
        """
        if effect == WITHIN:
            return sum_limits([self.squares[-1]], [self.dfs[-1]], level=level)
        sides = []
        for sign in (1, -1):
            terms = [
                (sign * c * s, df)
                for c, s, df in zip(self.components[effect], self.squares, self.dfs, strict=True)
                if sign * c > 0
            ]
            total = sum_limits([part for part, _ in terms], [df for _, df in terms], level=level)
            sides += [total.estimate, total.df]
        return difference_limits(*sides, level=level)


def nested(values: ArrayLike, factors: Mapping[str, ArrayLike]) -> Decomposition:
    """Mean squares of groups within groups; `factors` from the outermost inwards (one or two).

    With cell means ȳ of n_ij results, b_i cells in an outer group, b_h the harmonic mean of
    b_i, S_o² the variance of the outer groups' means of ȳ, S_c² the pooled variance of ȳ
    within outer groups and MS_w the variance within cells, let
    u = mean over i of Σ_j(1/n_ij)/b_i² and v = Σ_i(1 − 1/b_i)·Σ_j(1/n_ij) / Σ_i(b_i − 1):

        E(S_o²) = σ_o² + σ_c²/b_h + u·σ²,   E(S_c²) = σ_c² + v·σ²
        σ_o² + σ_c² + σ² = S_o² + (1 − 1/b_h)·S_c² + (1 − u − (1 − 1/b_h)·v)·MS_w

    Balanced: u = 1/(b·n), v = 1/n. One factor: σ_o² = S_o² − MS_w/n_h with the harmonic
    mean n_h of the group sizes.

    Inner labels may be used again in another outer group; they name different cells.
    Raises ValueError with fewer than two groups, with no repeated results, or when no outer
    group holds two inner ones.

    Source: balanced case S. R. Searle, G. Casella, C. E. McCulloch, Variance Components
    (1992) ch. 3 (from memory); unweighted means as in one-way designs.
    """
    y, codes = _coded(values, factors)
    if len(codes) not in (1, 2):
        raise ValueError(f"one or two nested factors are expected, not {len(codes)}")
    names = tuple(factors)
    cells = (
        codes[0] if len(codes) == 1 else np.unique(codes[0] * (codes[1].max() + 1) + codes[1], return_inverse=True)[1]
    )
    counts, means, within, df_within = _cells(y, cells)
    n_h = _harmonic(counts)
    if len(codes) == 1:
        between, df = _variance(means, "at least two groups are needed")
        return Decomposition(
            effects=(names[0], WITHIN), squares=(between, within), dfs=(df, df_within),
            components={names[0]: (1.0, -1 / n_h)}, sums=((1.0, 1 - 1 / n_h),), n_harmonic=n_h,
        )  # fmt: skip
    outer_of_cell = np.empty(len(counts), dtype=np.intp)
    outer_of_cell[cells] = codes[0]
    inner_counts, outer_means, spread, df_cells = _cells(
        means, outer_of_cell, "no outer group holds two inner groups: the two factors cannot be told apart"
    )
    between, df = _variance(outer_means, "at least two outer groups are needed")
    reciprocal = np.bincount(outer_of_cell, weights=1 / counts)
    per_outer = float(np.mean(reciprocal / inner_counts**2))
    per_cell = float(np.sum((1 - 1 / inner_counts) * reciprocal) / df_cells)
    b_h = _harmonic(inner_counts)
    rest = per_cell / b_h - per_outer
    return Decomposition(
        effects=(*names, WITHIN),
        squares=(between, spread, within),
        dfs=(df, df_cells, df_within),
        components={names[0]: (1.0, -1 / b_h, rest if abs(rest) > 1e-12 else 0.0), names[1]: (0.0, 1.0, -per_cell)},
        sums=((0.0, 1.0, 1 - per_cell), (1.0, 1 - 1 / b_h, 1 - per_outer - (1 - 1 / b_h) * per_cell)),
        n_harmonic=n_h,
    )


def crossed(values: ArrayLike, factors: Mapping[str, ArrayLike]) -> Decomposition:
    """Mean squares of a complete crossing of random factors, with all interactions.

    For a set T of factors MS_T is the analysis-of-variance mean square of the cell means;
    with k_f the number of labels of factor f:

        σ_S² = Σ_{T ⊇ S} (−1)^{|T|−|S|}·MS_T / Π_{f∉S} k_f      (and − MS_w/n_h for the full set)

    Effects are named `day`, `analyst`, `day × analyst`. Raises ValueError when a cell is
    empty (the intervals would not hold), when a factor is constant or no cell has repeated
    results.

    Source: S. R. Searle, G. Casella, C. E. McCulloch, Variance Components (1992) ch. 4 (from memory).
    """
    y, codes = _coded(values, factors)
    shape = tuple(int(code.max()) + 1 for code in codes)
    if min(shape) < 2:
        raise ValueError("every crossed factor needs at least two labels")
    flat = np.ravel_multi_index(codes, shape)
    if len(np.unique(flat)) < prod(shape):
        raise ValueError("a combination of the crossed factors has no result")
    counts, means, within, df_within = _cells(y, flat)
    n_h, table = _harmonic(counts), means.reshape(shape)
    axes = range(len(shape))
    subsets = [subset for size in range(1, len(shape) + 1) for subset in combinations(axes, size)]
    names = tuple(" × ".join(tuple(factors)[axis] for axis in subset) for subset in subsets)
    dfs = [prod(shape[axis] - 1 for axis in subset) for subset in subsets]
    squares = [_crossed_square(table, subset, df) for subset, df in zip(subsets, dfs, strict=True)]
    components = {
        name: (
            *(_sign(s, t) / prod(shape[a] for a in axes if a not in s) for t in subsets),
            -1 / n_h if len(s) == len(shape) else 0.0,
        )
        for name, s in zip(names, subsets, strict=True)
    }
    total = [sum(component[i] for component in components.values()) for i in range(len(subsets))]
    return Decomposition(
        effects=(*names, WITHIN),
        squares=(*squares, within),
        dfs=(*dfs, df_within),
        components=components,
        sums=((*(0.0 if abs(c) < 1e-12 else c for c in total), 1 - 1 / n_h),),
        n_harmonic=n_h,
    )


def _coded(values: ArrayLike, factors: Mapping[str, ArrayLike]) -> tuple[np.ndarray, list[np.ndarray]]:
    y = np.asarray(values, dtype=float)
    if y.ndim != 1 or y.size < 3 or not np.isfinite(y).all():
        raise ValueError(f"at least 3 finite results in one dimension are needed, {y.size} given")
    codes = [np.unique(np.asarray(labels), return_inverse=True)[1] for labels in factors.values()]
    if any(code.shape != y.shape for code in codes):
        raise ValueError("every factor needs one label for each result")
    return y, codes


def _cells(
    y: np.ndarray, cells: np.ndarray, reason: str = "no group holds two results: repeatability cannot be told"
) -> tuple[np.ndarray, np.ndarray, float, int]:
    """Counts, means, pooled variance within and its degrees of freedom."""
    counts = np.bincount(cells)
    centre = y.mean()
    means = np.bincount(cells, weights=y - centre) / counts + centre
    df = int(y.size - counts.size)
    if df < 1:
        raise ValueError(reason)
    return counts, means, float(np.sum((y - means[cells]) ** 2) / df), df


def _variance(means: np.ndarray, reason: str) -> tuple[float, int]:
    if means.size < 2:
        raise ValueError(reason)
    return float(means.var(ddof=1)), int(means.size - 1)


def _harmonic(counts: np.ndarray) -> float:
    return float(counts.size / np.sum(1 / counts))


def _crossed_square(table: np.ndarray, subset: Sequence[int], df: int) -> float:
    """Mean square of the interaction of the axes in `subset` of a full table of means."""
    others = tuple(axis for axis in range(table.ndim) if axis not in subset)
    effect = table.mean(axis=others, keepdims=True) if others else table
    for axis in subset:
        effect = effect - effect.mean(axis=axis, keepdims=True)
    return float(np.sum(effect**2) * prod(table.shape[axis] for axis in others) / df)


def _sign(inner: Sequence[int], outer: Sequence[int]) -> int:
    """(−1)^(|T|−|S|) when S lies in T, else 0."""
    return (-1) ** (len(outer) - len(inner)) if set(inner) <= set(outer) else 0
