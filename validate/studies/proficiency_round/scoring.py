"""Scores of every laboratory on every target, and the signals that they give."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from validate.stats import proficiency
from validate.studies.proficiency_round.assigning import Scale
from validate.studies.proficiency_round.submitted import BELOW, Submitted

UNCERTAIN = 0.3
"""u(x_pt) above this share of σ_pt is not negligible (ISO 13528:2015 9.2, from memory)."""
SIGNAL_WORDS = {-1: "", 0: "acceptable", 1: "warning signal", 2: "action signal"}
FALSE_LOW, FALSE_HIGH = "false low", "false high"
NOT_SCORED = "not scored"
QUESTIONABLE = "questionable"


@dataclass(frozen=True)
class Scores:
    """Arrays of targets × laboratories; NaN where there is no score."""

    D: np.ndarray
    D_percent: np.ndarray
    z: np.ndarray
    z_prime: np.ndarray
    zeta: np.ndarray
    e_n: np.ndarray
    classifying: tuple[str, ...]
    """`z` or `z′` for each target."""
    signal: np.ndarray
    """−1 none, 0 acceptable, 1 warning, 2 action; from the classifying score."""

    def deciding(self, target: int) -> np.ndarray:
        return self.z_prime[target] if self.classifying[target] == "z′" else self.z[target]


def scores_of(sent: Submitted, scales: tuple[Scale, ...], consensus_score: str) -> Scores:
    """z, z′, ζ, E_n, D and D % of all results.

    z′ classifies where an independent x_pt is uncertain (u > 0.3 σ_pt); for a consensus the
    protocol says which.
    """
    shape = sent.results.shape
    arrays = {name: np.full(shape, np.nan) for name in ("D", "D_percent", "z", "z_prime", "zeta", "e_n")}
    classifying = []
    for i, scale in enumerate(scales):
        x, at, u = sent.results[i], scale.chosen.value, scale.chosen.u or 0.0
        classifying.append("z")
        if at is None:
            continue
        arrays["D"][i] = proficiency.difference(x, at)
        arrays["D_percent"][i] = proficiency.percent_difference(x, at) if at > 0 else np.nan
        own = sent.u[i]
        usable = ~np.isnan(own) & (np.hypot(np.nan_to_num(own), u) > 0)
        arrays["zeta"][i, usable] = proficiency.zeta(x[usable], at, own[usable], u)
        arrays["e_n"][i, usable] = proficiency.e_n(x[usable], at, sent.U[i, usable], 2 * u)
        if not scale.scored:
            continue
        arrays["z"][i] = proficiency.z(x, at, scale.sigma)
        arrays["z_prime"][i] = proficiency.z_prime(x, at, scale.sigma, u)
        if scale.ratio is not None and scale.ratio > UNCERTAIN:
            classifying[i] = "z′" if not scale.consensus or consensus_score == "z prime" else "z"
    made = Scores(**arrays, classifying=tuple(classifying), signal=np.full(shape, -1, dtype=np.int8))
    for i in range(shape[0]):
        made.signal[i] = proficiency.signals(made.deciding(i), kind="z")
    return made


def censored_word(limit: float | None, side: str, scale: Scale) -> str:
    """What a result without a number says beside x_pt: own proposal, no standard gives it."""
    at, sigma = scale.chosen.value, scale.sigma
    if limit is None or at is None or sigma is None:
        return NOT_SCORED
    if side == BELOW:
        return FALSE_LOW if limit <= at - 3 * sigma else NOT_SCORED if limit > at else QUESTIONABLE
    return FALSE_HIGH if limit >= at + 3 * sigma else NOT_SCORED if limit < at else QUESTIONABLE


def counts(scores: Scores, target: int) -> tuple[int, int, int]:
    """How many laboratories are acceptable, give a warning signal, give an action signal."""
    found = scores.signal[target]
    return tuple(int(np.count_nonzero(found == kind)) for kind in (0, 1, 2))  # type: ignore[return-value]
