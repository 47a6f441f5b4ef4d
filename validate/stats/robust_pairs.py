"""Spread from pairwise differences: Qn and the Q method, which are not the same; Hampel's mean."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from validate.stats._differences import Differences
from validate.stats._input import Floats, group_codes, number, vector
from validate.stats._rows import row_by_row, sorted_rows
from validate.stats.robust_result import Robust, RobustRows, packed

QN_CONSTANT = 1 / (math.sqrt(2) * float(special.ndtri(5 / 8)))
"""2.219144…; 2.2219 in some publications is a misprint."""
SMALL_QN = {2: 0.399, 3: 0.994, 4: 0.512, 5: 0.844, 6: 0.611, 7: 0.857, 8: 0.669, 9: 0.872}
MOST_WITH_GROUPS = 5000
UNDEFINED = "so many results are identical that the pairwise differences give no spread"


def qn(x: ArrayLike, *, finite_sample: Literal["none", "1992"] = "none") -> float | Floats:
    """Qn: 2.21914 times the k-th smallest |x_i − x_j|, k = h(h − 1)/2, h = ⌊n/2⌋ + 1.

    `x`: n ≥ 2 results, or an array with a measurand in each row (NaN: no result). 0 when
    half of the results are identical. `finite_sample="1992"` multiplies by the factors of
    Croux and Rousseeuw (0.399 … 0.872 for n = 2 … 9; n/(n + 1.4) odd, n/(n + 3.8) even, from
    memory), which make it nearly unbiased for normal results; other packages use others.

    O(n·log n). Source: P. J. Rousseeuw, C. Croux, J. Am. Stat. Assoc. 88 (1993) 1273-1283.

    >>> round(qn([1.0, 2.0, 4.0, 7.0, 11.0]), 4)
    6.6574
    """
    if finite_sample not in ("none", "1992"):
        raise ValueError(f"finite_sample must be 'none' or '1992', found {finite_sample!r}")

    def of_row(ordered: Floats) -> float:
        n = len(ordered)
        h = n // 2 + 1
        raw = QN_CONSTANT * Differences(ordered).kth(h * (h - 1) // 2)
        if finite_sample == "none":
            return raw
        return raw * SMALL_QN.get(n, n / (n + (1.4 if n % 2 else 3.8)))

    return row_by_row(x, of_row, at_least=2)


def q_method(x: ArrayLike, groups: Iterable[Hashable] | None = None) -> Robust | RobustRows:
    """Spread by the Q method, with Hampel's mean: no outlier and no iteration decides it.

    H(t): share of pairs of laboratories with |difference| ≤ t (with replicates each pair of
    laboratories counts once, its differences equally). G: H smoothed, (H(t) + H(t−))/2 at the
    steps t > 0, G(0) = 0, linear between. sd = G⁻¹(0.25 + 0.75·H(0)) / (√2·Φ⁻¹(0.625 +
    0.375·H(0))): the standard deviation between laboratories, repeatability included.

    `x`: results, one for each laboratory; or with `groups` several (at most 5,000 in all); or
    an array (rows are measurands, NaN no result). ValueError below 3 laboratories.
    `degenerate` when all pairs are identical.

    Source: ISO 13528:2015 C.5.2 (from memory); C. Müller, S. Uhlig, Biometrika 88 (2001) 353-366.
    """
    if groups is not None:
        return _q_with_groups(x, groups)
    rows = sorted_rows(x, at_least=3)
    mean, sd = np.full(len(rows.n), np.nan), np.full(len(rows.n), np.nan)
    for i in np.flatnonzero(rows.usable):
        ordered = rows.values[i, : rows.n[i]]
        sd[i] = _q_of(ordered)
        mean[i] = _hampel_of(ordered, sd[i]) if sd[i] > 0 else np.median(ordered)
    return packed(rows, mean, sd, degenerate_because=UNDEFINED)


def _q_of(ordered: Floats) -> float:
    pairs = Differences(ordered)
    if pairs.close == 0:
        return 0.0
    equal = pairs.at_most(0.0) / pairs.pairs
    if equal >= 1:
        return 0.0
    wanted = 0.25 + 0.75 * equal
    at = pairs.kth(math.ceil(wanted * pairs.pairs - 1e-9))

    def smoothed(t: float | None) -> tuple[float, float]:
        if t is None or t <= pairs.close:
            return 0.0, 0.0
        return t, (pairs.below(t) + pairs.at_most(t)) / 2 / pairs.pairs

    here = smoothed(at)
    if here[1] >= wanted:
        left, right = smoothed(pairs.next_below(at)), here
    else:
        above = pairs.next_above(at)
        left, right = here, here if above is None else smoothed(above)
    quantile = float(np.interp(wanted, (left[1], right[1]), (left[0], right[0]))) if right[1] > left[1] else right[0]
    return _scaled(quantile, equal)


def _scaled(quantile: float, equal: float) -> float:
    return quantile / (math.sqrt(2) * float(special.ndtri(0.625 + 0.375 * equal)))


def _q_with_groups(x: ArrayLike, groups: Iterable[Hashable]) -> Robust:
    values = vector(x, "result", at_least=3)
    codes, labels = group_codes(groups, len(values), "laboratory")
    if len(labels) < 3:
        raise ValueError(f"{len(labels)} laboratories found, at least 3 needed")
    if len(values) > MOST_WITH_GROUPS:
        raise ValueError(f"{len(values)} results found, at most {MOST_WITH_GROUPS} with replicates")
    sizes = np.bincount(codes)
    first, second = np.triu_indices(len(values), 1)
    between = codes[first] != codes[second]
    first, second = first[between], second[between]
    weights = 1.0 / (sizes[codes[first]] * sizes[codes[second]])
    differences = np.abs(values[first] - values[second])
    order = np.argsort(differences)
    differences, weights = differences[order], weights[order]
    close = 1e-12 * float(np.max(np.abs(values)))
    starts = np.flatnonzero(np.concatenate(([True], np.diff(differences) > close)))
    steps, share = differences[starts], np.cumsum(np.add.reduceat(weights, starts)) / weights.sum()
    equal = float(share[0]) if steps[0] <= close else 0.0
    smooth = (share + np.concatenate(([0.0], share[:-1]))) / 2
    if steps[0] <= close:
        steps, smooth = steps[1:], smooth[1:]
    means = np.sort(np.bincount(codes, weights=values) / sizes)
    if not steps.size:
        return Robust(float(np.median(means)), None, len(labels), 0, True, UNDEFINED)
    sd = _scaled(float(np.interp(0.25 + 0.75 * equal, np.r_[0.0, smooth], np.r_[0.0, steps])), equal)
    return Robust(_hampel_of(means, sd), sd, len(labels))


def hampel_mean(x: ArrayLike, s: float) -> float:
    """Location q with Σψ((x_i − q)/s) = 0, by Hampel's three-part ψ with 1.5, 3 and 4.5.

    ψ(u) = u up to 1.5, 1.5 up to 3, 4.5 − u up to 4.5, then 0 (odd). Results more than 4.5·s
    away do not count. Of several solutions the one nearest the median. `s`: a robust spread,
    as of `q_method`. ValueError for s ≤ 0 or an empty row.

    Source: ISO 13528:2015 C.5.3 (from memory).

    >>> hampel_mean([9.9, 10.0, 10.1, 30.0], 0.1)
    10.0
    """
    spread = number(s, "the spread", above=0)
    return _hampel_of(np.sort(vector(x, "result")), spread)


def _hampel_of(ordered: Floats, s: float) -> float:
    """Σψ is linear between the nodes x_i ± 1.5 s, 3 s, 4.5 s; its zeros stand between them."""
    centre = float(np.median(ordered))
    u = (ordered - centre) / s
    n = len(u)
    nodes = np.concatenate([u - 4.5, u - 3, u - 1.5, u + 1.5, u + 3, u + 4.5])
    bends = np.repeat([1.0, -1.0, -1.0, 1.0, 1.0, -1.0], n)
    order = np.argsort(nodes, kind="stable")
    nodes, slopes = nodes[order], np.cumsum(bends[order])
    sums = np.concatenate(([0.0], np.cumsum(slopes[:-1] * np.diff(nodes))))
    sums[np.abs(sums) < 1e-9 * n] = 0.0
    left, right = sums[:-1], sums[1:]
    crossing = (left * right < 0) | (left == 0) | (right == 0)
    k = np.flatnonzero(crossing)
    low, high, a, b = nodes[k], nodes[k + 1], left[k], right[k]
    flat = (a == 0) & (b == 0)
    step = np.where(a == b, 1.0, a - b)
    zero = np.where(flat, np.clip(0.0, low, high), low + (high - low) * np.where(flat, 0.0, a / step))
    return centre + s * float(zero[np.argmin(np.abs(zero))])
