"""What does not fit: blunders, methods that differ, rounding, unbelievable uncertainties. Questions, not verdicts."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

import numpy as np

from validate.stats import robust
from validate.studies.proficiency_round.assigning import Scale
from validate.studies.proficiency_round.false_alarms import (
    ACCEPTABLE,
    ACTION,
    chance_of_exchange,
    chance_of_factor,
    most_alike,
    rarely,
)
from validate.studies.proficiency_round.scoring import Scores
from validate.studies.proficiency_round.submitted import Submitted

FACTORS = (10.0, 0.1, 100.0, 0.01, 1000.0, 0.001)
FEWEST_OF_METHOD = 5
CRITICAL = 2.576
"""1 % two-sided, normal: differences between method groups beyond it are told. With 1.25·s*/√n for each group, the
t law is not needed: from 5 laboratories on, 0.4 to 1.1 % of sound groups are told (simulated in the tests)."""
FEWEST_FOR_ROUNDING = 8
MODE_WEIGHT, MODE_SUPPORT = 0.15, 0.8
"""A second mode is told when it holds this share of the results and this share of resamples has it (own rule).
Of rounds of one population that scatters as σ_pt allows at most 1 % are told; where it scatters 1.5 times as
much, the bandwidth is narrow for it: 15 % of rounds of 12, 5 % of 24, 2 % of 34 laboratories (simulated in
the tests). Two populations 4 σ_pt apart are told in 90 % of rounds."""
WIDE_SCATTER = 1.2
"""From this multiple of σ_pt on the remark says that chance makes second modes."""


@dataclass(frozen=True)
class Suspicion:
    laboratory: str
    target: str
    text: str
    row: int


def blunders(sent: Submitted, scales: tuple[Scale, ...], scores: Scores) -> tuple[Suspicion, ...]:
    """Action signals that a factor of ten (or a thousand) or an exchange of two samples would explain."""
    found = []
    for i, scale in enumerate(scales):
        for lab in np.flatnonzero(scores.signal[i] == 2):
            n = int(np.count_nonzero(~np.isnan(sent.results[i])))
            text = _factor(float(sent.results[i, lab]), scale, n) or _exchange(sent, scales, i, int(lab))
            if text:
                found.append(Suspicion(sent.laboratories[lab], scale.target.label, text, int(sent.rows[i, lab])))
    return tuple(found)


def _factor(x: float, scale: Scale, n: int) -> str:
    """A factor that makes the result acceptable, unless sound results look so too: a wide σ_pt forgives a factor."""
    relative = scale.sigma / abs(scale.chosen.value)
    for factor in FACTORS:
        fits = abs(x * factor - scale.chosen.value) <= ACCEPTABLE * scale.sigma
        if fits and rarely(n, chance_of_factor(factor, relative), len(FACTORS)):
            change = f"{factor:g} times larger" if factor > 1 else f"{1 / factor:g} times smaller"
            return f"a result {change} would be acceptable: decimal point, dilution or unit?"
    return ""


def _exchange(sent: Submitted, scales: tuple[Scale, ...], i: int, lab: int) -> str:
    """Whether neither result would give an action signal if the two had changed places.

    Samples of nearly the same content are left alone: there sound laboratories look so as well.
    """
    here = scales[i]
    for j, other in enumerate(scales):
        if i == j or other.target.measurand != here.target.measurand or not other.scored:
            continue
        n = int(np.count_nonzero(~np.isnan(sent.results[i] + sent.results[j])))
        apart = abs(other.chosen.value - here.chosen.value)
        crossed = (
            abs(sent.results[i, lab] - other.chosen.value) < ACTION * other.sigma
            and abs(sent.results[j, lab] - here.chosen.value) < ACTION * here.sigma
        )
        if crossed and rarely(n, chance_of_exchange(apart / here.sigma, other.sigma / here.sigma)):
            return f"it fits {other.target.sample}, and the result of {other.target.sample} fits this one: exchanged?"
    return ""


@dataclass(frozen=True)
class MethodGroup:
    target: str
    method: str
    n: int
    mean: float
    sd: float | None
    difference: float | None
    """Robust mean of the group minus that of all others."""
    u: float | None
    differs: bool


def method_groups(sent: Submitted, scales: tuple[Scale, ...]) -> tuple[MethodGroup, ...]:
    """Robust means by method, each held against all others; groups of fewer than 5 are listed without a test."""
    found = []
    for i, scale in enumerate(scales):
        known = ~np.isnan(sent.results[i])
        for method in sorted({str(m) for m in sent.methods[i][known] if m}):
            own = known & (sent.methods[i] == method)
            others = known & ~own
            found.append(_group(scale, method, np.sort(sent.results[i][own]), np.sort(sent.results[i][others])))
    return tuple(found)


def _group(scale: Scale, method: str, own: np.ndarray, others: np.ndarray) -> MethodGroup:
    label = scale.target.label
    if len(own) < FEWEST_OF_METHOD or len(others) < FEWEST_OF_METHOD:
        return MethodGroup(label, method, len(own), float(np.median(own)), None, None, None, False)
    inner, outer = robust.algorithm_a(own), robust.algorithm_a(others)
    if inner.sd is None or outer.sd is None:
        return MethodGroup(label, method, len(own), inner.mean, inner.sd, None, None, False)
    difference = inner.mean - outer.mean
    u = 1.25 * math.hypot(inner.sd / math.sqrt(inner.n), outer.sd / math.sqrt(outer.n))
    return MethodGroup(label, method, len(own), inner.mean, inner.sd, difference, u, abs(difference) > CRITICAL * u)


def most_frequent(values: np.ndarray) -> tuple[float, int] | None:
    """The value that more of at least 8 laboratories report than sound rounding explains, and how many do."""
    if len(values) < FEWEST_FOR_ROUNDING:
        return None
    value, count = Counter(values.tolist()).most_common(1)[0]
    return (value, count) if count > most_alike(len(values)) else None


def implausible_uncertainties(sent: Submitted, scales: tuple[Scale, ...]) -> tuple[Suspicion, ...]:
    """Standard uncertainties below that of x_pt, or above 1.5 s* (ISO 13528:2015 9.8, from memory).

    No chance is set here: nobody knows how honest uncertainties scatter. A laboratory whose u is the
    standard deviation that all share is taken for too large where s* comes out below 2/3 of it: in 7 % of
    rounds of 12, 3 % of 20, 0.8 % of 34 laboratories (simulated in the tests), of fewer still more often.
    """
    found = []
    for i, scale in enumerate(scales):
        u = sent.u[i]
        for lab in np.flatnonzero(~np.isnan(u)):
            text = _implausible(float(u[lab]), scale)
            if text:
                found.append(Suspicion(sent.laboratories[lab], scale.target.label, text, int(sent.rows[i, lab])))
    return tuple(found)


def _implausible(u: float, scale: Scale) -> str:
    if u == 0:
        return "an uncertainty of 0 cannot be"
    if scale.chosen.u and u < scale.chosen.u:
        return "the reported uncertainty is smaller than that of the assigned value: too small?"
    if scale.star and scale.star.sd and u > 1.5 * scale.star.sd:
        return ("the reported uncertainty is more than 1.5 times the spread of all laboratories: too large, "
                "or in another unit or in percent?")  # fmt: skip
    return ""


def second_mode(scale: Scale) -> tuple[float, float, float, float] | None:
    """Locations of the two highest modes, weight and support of the second, where it counts."""
    modes = scale.modes.modes if scale.modes else ()
    for other in modes[1:]:
        if other.weight >= MODE_WEIGHT and other.support >= MODE_SUPPORT:
            return modes[0].location, other.location, other.weight, other.support
    return None
