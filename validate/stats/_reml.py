"""Restricted maximum likelihood (REML) for results that share random levels.

Model: y = μ + Σ_f Z_f·b_f + e with independent normal b_f (variance λ_f·σ²) and e (σ²).
Everything is done on the q = Σ levels scale. With Z = [Z_1 …], M the projection that
removes the mean, S = Z'MZ, D = diag(λ) by column:

    T = Z'PZ = S·(I + D·S)⁻¹,   w = Z'Py = (I + S·D)⁻¹·Z'My,   Q = y'Py = y'My − (Z'My)'·D·w
    criterion(λ) = log|I + D·S| + (N − 1)·log Q        (−2 log REML, σ² profiled out, up to a constant)
    gradient_f   = tr(T_ff) − (N − 1)·|w_f|²/Q

Source: D. A. Harville, J. Am. Stat. Assoc. 72 (1977) 320-338 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from validate.stats._input import Floats
from validate.stats._sums import total

MOST_LEVELS = 1000
"""Largest number of levels over all terms: the matrices are square in it."""
ROUNDS = 200


@dataclass(frozen=True)
class Design:
    """Incidence of the terms: column blocks, counts per level, S = Z'MZ, and Z'My, y'My."""

    blocks: tuple[slice, ...]
    n: int
    counts: Floats
    crosses: Floats
    products: Floats
    square: float

    @property
    def centred_crosses(self) -> Floats:
        return self.crosses - np.outer(self.counts, self.counts) / self.n


@dataclass(frozen=True)
class State:
    """Criterion, gradient and the matrices at one λ."""

    criterion: float
    gradient: Floats
    t: Floats
    w: Floats
    q: float


def design(deviation: Floats, codes: Sequence[NDArray[np.intp]]) -> Design:
    """Cross products of the terms. `deviation`: results minus their mean."""
    sizes = [int(code.max()) + 1 for code in codes]
    if sum(sizes) > MOST_LEVELS:
        raise ValueError(f"{sum(sizes)} levels found in the crossed factors, at most {MOST_LEVELS} can be handled")
    ends = np.cumsum([0, *sizes])
    blocks = tuple(slice(int(a), int(b)) for a, b in pairwise(ends))
    crosses = np.zeros((ends[-1], ends[-1]))
    for i, rows in enumerate(blocks):
        for j, columns in enumerate(blocks):
            pair = np.bincount(codes[i] * sizes[j] + codes[j], minlength=sizes[i] * sizes[j])
            crosses[rows, columns] = pair.reshape(sizes[i], sizes[j])
    counts = np.concatenate([np.diagonal(crosses[block, block]) for block in blocks])
    products = np.concatenate([np.bincount(code, deviation) for code in codes])
    return Design(blocks, len(deviation), counts, crosses, products, total(deviation * deviation))


def dependent(found: Design) -> bool:
    """True when two or more terms (or a term and the residual) cannot be told apart.

    The matrices M·Z_f·Z_f'·M and M are then linearly dependent: their Gram matrix is singular.
    """
    s, b = found.centred_crosses, found.blocks
    gram = np.full((len(b) + 1, len(b) + 1), float(found.n - 1))
    gram[:-1, :-1] = [[np.sum(s[f, g] ** 2) for g in b] for f in b]
    gram[-1, :-1] = gram[:-1, -1] = [np.trace(s[f, f]) for f in b]
    scale = np.sqrt(np.diagonal(gram))
    return bool(np.any(scale == 0)) or float(np.linalg.eigvalsh(gram / np.outer(scale, scale))[0]) < 1e-9


def evaluate(found: Design, ratios: Floats) -> State:
    """The criterion and its gradient at the variance ratios λ."""
    s, diagonal = found.centred_crosses, _by_column(found, ratios)
    system = np.eye(len(s)) + s * diagonal
    solved = np.linalg.solve(system, np.column_stack([s, found.products]))
    t, w = solved[:, :-1], solved[:, -1]
    q = found.square - float(found.products @ (diagonal * w))
    _, log_determinant = np.linalg.slogdet(system)
    gradient = np.array([np.trace(t[b, b]) - (found.n - 1) * float(w[b] @ w[b]) / q for b in found.blocks])
    return State(float(log_determinant) + (found.n - 1) * float(np.log(q)), gradient, t, w, q)


def maximise(found: Design) -> tuple[Floats, State]:
    """λ at the REML optimum: projected Newton steps, Fisher scoring where the curvature is not positive."""
    fitted = np.linalg.lstsq(found.centred_crosses, found.products, rcond=1e-10)[0]
    if found.square - float(found.products @ fitted) <= 1e-13 * found.square:
        raise ValueError("the results repeat exactly: no residual variance can be estimated")
    ratios = np.ones(len(found.blocks))
    state = evaluate(found, ratios)
    for _ in range(ROUNDS):
        free = (ratios > 0) | (state.gradient < 0)
        step = np.zeros_like(ratios)
        if free.any():
            curvature = _curvature(found, state)[np.ix_(free, free)]
            step[free] = -np.linalg.solve(curvature, state.gradient[free])
        ratios, state, moved = _advance(found, ratios, state, step)
        if not moved:
            break
    if _slope(ratios, state) > 1e-6 * found.n:
        raise ValueError("the variance components could not be found: the likelihood has no clear maximum")
    return ratios, state


def covariance(found: Design, ratios: Floats, state: State) -> Floats:
    """Large-sample covariance of the positive components, the residual last."""
    keep = np.append(ratios > 0, True)
    variance = state.q / (found.n - 1)
    return 2 * variance**2 * np.linalg.inv(_information(found, ratios, state)[np.ix_(keep, keep)])


def mean_and_error(found: Design, ratios: Floats, state: State) -> tuple[float, float]:
    """Generalised least squares mean of the deviations and its standard error."""
    diagonal = _by_column(found, ratios)
    weights = np.linalg.solve(np.eye(len(diagonal)) + diagonal[:, None] * found.crosses, diagonal * found.counts)
    precision = found.n - float(found.counts @ weights)
    return -float(found.products @ weights) / precision, float(np.sqrt(state.q / (found.n - 1) / precision))


def _advance(found: Design, ratios: Floats, state: State, step: Floats) -> tuple[Floats, State, bool]:
    """Halve the projected step until the criterion falls; False when it cannot fall any more.

    Near the optimum the criterion is flat to rounding: there the slope decides.
    """
    flat = 1e-13 * (abs(state.criterion) + found.n)
    for _ in range(60):
        candidate = np.maximum(0.0, ratios + step)
        if np.all(np.abs(candidate - ratios) <= 1e-14 * ratios):
            return ratios, state, False
        new = evaluate(found, candidate)
        if new.criterion < state.criterion - flat:
            return candidate, new, True
        if new.criterion <= state.criterion + flat and _slope(candidate, new) < _slope(ratios, state):
            return candidate, new, True
        step = step / 2
    return ratios, state, False


def _slope(ratios: Floats, state: State) -> float:
    """Largest slope per relative change of λ; where λ is 0, only one that asks for more counts."""
    inside = np.abs(state.gradient) * ratios
    return float(np.max(np.where(ratios > 0, inside, np.maximum(0.0, -state.gradient))))


def _curvature(found: Design, state: State) -> Floats:
    """Second derivatives when positive definite, else their expectation."""
    k, w, b = found.n - 1, state.w, found.blocks
    norm = np.array([float(w[f] @ w[f]) for f in b])
    fisher = np.array([[float(np.sum(state.t[f, g] ** 2)) for g in b] for f in b])
    mixed = np.array([[float(w[f] @ state.t[f, g] @ w[g]) for g in b] for f in b])
    exact = -fisher + k * (2 * mixed / state.q - np.outer(norm, norm) / state.q**2)
    smallest = np.linalg.eigvalsh(exact / np.sqrt(np.outer(np.diagonal(fisher), np.diagonal(fisher))))[0]
    return exact if smallest > 1e-6 else fisher


def _information(found: Design, ratios: Floats, state: State) -> Floats:
    """Matrix of tr(P·V_i·P·V_j), in units of σ⁻⁴, for the terms and the residual (last)."""
    s, diagonal, b = found.centred_crosses, _by_column(found, ratios), found.blocks
    root = np.sqrt(diagonal)
    eigenvalues = np.linalg.eigvalsh(s * np.outer(root, root))
    twice = np.linalg.solve(np.eye(len(s)) + s * diagonal, state.t)
    matrix = np.empty((len(b) + 1, len(b) + 1))
    matrix[:-1, :-1] = [[np.sum(state.t[f, g] ** 2) for g in b] for f in b]
    matrix[-1, :-1] = matrix[:-1, -1] = [np.trace(twice[f, f]) for f in b]
    matrix[-1, -1] = found.n - 1 - len(s) + np.sum(1 / (1 + eigenvalues) ** 2)
    return matrix


def _by_column(found: Design, ratios: Floats) -> Floats:
    return np.concatenate([np.full(b.stop - b.start, ratio) for b, ratio in zip(found.blocks, ratios, strict=True)])
