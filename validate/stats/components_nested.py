"""Two random factors, one inside the other: casks in batches, days in laboratories."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from validate.stats import mean_squares
from validate.stats._input import Floats, count, group_codes, vector
from validate.stats._sums import cells, centred, total
from validate.stats.components_one_way import FEW_GROUPS, notes_on
from validate.stats.intervals import Limits, Term, mls_limits, satterthwaite_df, sd_limits

Codes = NDArray[np.intp]


@dataclass(frozen=True)
class Nested:
    """Components of nested data, with the sums that a reviewer ticks off.

    `variance_…_raw` may be negative and then count as 0 in the standard deviations.
    `s_within_outer` = √(s_r² + s_inner²), `s_intermediate` = √(s_r² + s_inner² + s_outer²).
    `k_inner`, `k_outer_inner`, `k_outer` are the coefficients of the expected mean
    squares. `terms` add up to the untruncated total variance from unweighted means, and
    `terms_within_outer` to that within outer groups: the limits rest on them.
    """

    n: int
    n_outer: int
    n_inner: int
    mean: float
    s_r: float
    s_inner: float
    s_outer: float
    s_within_outer: float
    s_intermediate: float
    variance_inner_raw: float
    variance_outer_raw: float
    ss_outer: float
    ss_inner: float
    ss_within: float
    ms_outer: float
    ms_inner: float
    ms_within: float
    df_outer: int
    df_inner: int
    df_within: int
    k_inner: float
    k_outer_inner: float
    k_outer: float
    s_r_limits: Limits
    s_within_outer_limits: Limits
    s_intermediate_limits: Limits
    terms: tuple[Term, ...]
    terms_within_outer: tuple[Term, ...]
    few_groups: bool
    notes: tuple[str, ...] = ()

    @property
    def df_intermediate(self) -> float:
        """Satterthwaite's degrees of freedom of s_intermediate."""
        return satterthwaite_df(self.terms)


def nested(values: ArrayLike, outer: Iterable[Hashable], inner: Iterable[Hashable], *, level: float = 0.95) -> Nested:
    """Components of variance of inner groups within outer groups, balanced or not.

    Sequential sums of squares (outer, inner within outer, within), equated to their
    expectations:

        E(MS_within) = σ²
        E(MS_inner)  = σ² + k_inner·σ_inner²
        E(MS_outer)  = σ² + k_outer_inner·σ_inner² + k_outer·σ_outer²

    With n_ij results in a cell and n_i in an outer group, a outer groups and b cells:
    k_inner = (N − ΣΣn_ij²/n_i)/(b − a), k_outer_inner = (ΣΣn_ij²/n_i − ΣΣn_ij²/N)/(a − 1),
    k_outer = (N − Σn_i²/N)/(a − 1). Negative estimates are told and counted as 0.
    Limits: chi-square for s_r, MLS on the mean squares of unweighted means
    (`mean_squares.nested`) for the sums.

    `values`: N results of one unit; `outer`, `inner`: one label each. Inner labels may be
    used again in another outer group and then name different cells. Raises ValueError for
    fewer than 2 outer groups, when no outer group holds two cells, or no cell two results.

    Source: S. R. Searle, G. Casella, C. E. McCulloch, Variance Components (1992) 3.6 and
    appendix F (from memory); ISO 5725-3 for balanced designs (from memory).

    >>> batch = ["A"] * 4 + ["B"] * 4
    >>> cask = ["a", "a", "b", "b"] * 2
    >>> found = nested([62.8, 62.6, 60.1, 62.3, 60.0, 61.4, 57.5, 56.9], batch, cask)
    >>> [round(ms, 4) for ms in (found.ms_outer, found.ms_inner, found.ms_within)]
    [18.0, 7.25, 0.9]
    """
    x = vector(values, "result", at_least=4)
    outer_codes, outer_labels = group_codes(outer, len(x), "outer group")
    inner_codes, inner_labels = group_codes(inner, len(x), "inner group")
    cell_codes, outer_of_cell = _cells_of(outer_codes, inner_codes, len(inner_labels))
    n, a, b = len(x), len(outer_labels), len(outer_of_cell)
    _need_cells(n, a, b)
    centre, deviation = centred(x)
    cell = cells(deviation, cell_codes)
    n_i = np.bincount(outer_codes).astype(np.float64)
    outer_means = np.bincount(outer_of_cell, cell.sizes * cell.means) / n_i
    grand = total(n_i * outer_means) / n
    ss_inner = total(cell.sizes * (cell.means - outer_means[outer_of_cell]) ** 2)
    ss_outer = total(n_i * (outer_means - grand) ** 2)
    ms_outer, ms_inner, ms_within = ss_outer / (a - 1), ss_inner / (b - a), cell.squares_within / (n - b)
    k_inner, k_outer_inner, k_outer = _coefficients(cell.sizes, n_i, outer_of_cell)
    var_inner = (ms_inner - ms_within) / k_inner
    var_outer = (ms_outer - ms_within - k_outer_inner * var_inner) / k_outer
    within_outer = ms_within + max(0.0, var_inner)
    squares = mean_squares.nested(deviation, {"outer": outer_codes, "inner": cell_codes})
    terms, terms_within = (tuple(map(Term, *squares.sum_parts(index))) for index in (1, 0))
    s_pooled = math.sqrt((ss_outer + ss_inner + cell.squares_within) / (n - 1))
    return Nested(
        n=n,
        n_outer=a,
        n_inner=b,
        mean=centre + grand,
        s_r=math.sqrt(ms_within),
        s_inner=math.sqrt(max(0.0, var_inner)),
        s_outer=math.sqrt(max(0.0, var_outer)),
        s_within_outer=math.sqrt(within_outer),
        s_intermediate=math.sqrt(within_outer + max(0.0, var_outer)),
        variance_inner_raw=var_inner,
        variance_outer_raw=var_outer,
        ss_outer=ss_outer,
        ss_inner=ss_inner,
        ss_within=cell.squares_within,
        ms_outer=ms_outer,
        ms_inner=ms_inner,
        ms_within=ms_within,
        df_outer=a - 1,
        df_inner=b - a,
        df_within=n - b,
        k_inner=k_inner,
        k_outer_inner=k_outer_inner,
        k_outer=k_outer,
        s_r_limits=sd_limits(math.sqrt(ms_within), n - b, level),
        s_within_outer_limits=mls_limits(terms_within, level),
        s_intermediate_limits=mls_limits(terms, level),
        terms=terms,
        terms_within_outer=terms_within,
        few_groups=a < FEW_GROUPS,
        notes=notes_on(a, "outer groups", {"inner": var_inner, "outer": var_outer}, s_pooled),
    )


def _cells_of(outer: Codes, inner: Codes, n_inner: int) -> tuple[Codes, Codes]:
    """Cell of each result, and outer group of each cell."""
    found, codes = np.unique(outer * n_inner + inner, return_inverse=True)
    return codes, found // n_inner


def _need_cells(n: int, a: int, b: int) -> None:
    if a < 2:
        raise ValueError(f"{count(a, 'outer group')} found, at least 2 needed")
    if b <= a:
        raise ValueError(f"{b} inner groups found in {a} outer groups, at least {a + 1} needed: none holds two")
    if n <= b:
        raise ValueError(f"{n} results found in {b} inner groups, at least {b + 1} needed: none has a second result")


def _coefficients(n_ij: Floats, n_i: Floats, outer_of_cell: Codes) -> tuple[float, float, float]:
    n, a, b = total(n_i), len(n_i), len(n_ij)
    weighted = total(n_ij**2 / n_i[outer_of_cell])
    return (
        (n - weighted) / (b - a),
        (weighted - total(n_ij**2) / n) / (a - 1),
        (n - total(n_i**2) / n) / (a - 1),
    )
