"""What a round can decide before there are results: laboratories against u(x_pt) ≤ 0.3 σ_pt, and the fallbacks."""

from __future__ import annotations

import math
from collections.abc import Iterator

from validate.studies.contract import CheckInput
from validate.studies.proficiency_round.settings import ProficiencyRoundSettings
from validate.studies.proficiency_round.targets import Target
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)
GOAL = 0.3
WIDE = 1.5
"""Rounds often scatter more than σ_pt allows: the figures are told for this multiple as well."""
MODE_FACTOR = (1 + 1 / 0.75**2) ** 1.5 / (1 + 2 / 0.75**2) ** 0.75
"""√p·u/σ of the mode of a kernel density of bandwidth h = 0.75 σ, normal results: 1.485.

The mode solves Σψ(x) = 0 with ψ(x) = x·exp(−x²/2h²), so u² = E[ψ²]/(p·E[ψ′]²) with (σ = 1)
E[ψ²] = (1 + 2/h²)^(−3/2) and E[ψ′] = (1 + 1/h²)^(−3/2). Large p; a bootstrap gives the u of a round.
"""
FACTORS = {
    "algorithm A": 1.25,
    "Q method": 1.25,
    "median, MADe": 1.25,
    "median, nIQR": 1.25,
    "kernel mode": MODE_FACTOR,
}
"""u(x_pt) = factor · s/√p; 1.25 as ISO 13528:2015, 7.7 (from memory) has it."""
FEWEST = {by: 12 if by.startswith("median") else 5 for by in FACTORS}
FEWEST_ROBUST_SD = 12


def design_problems(
    job: CheckInput, settings: ProficiencyRoundSettings, targets: tuple[Target, ...]
) -> Iterator[Problem]:
    """For every way to set x_pt that the protocol declares; nothing once there is a table."""
    if job.table is not None:
        return
    groups: dict[tuple[object, ...], list[Target]] = {}
    for target in targets:
        key = (target.assigned_value, target.sigma_pt) if target.assigned_value.by not in FACTORS else (
            target.assigned_value.by, target.assigned_value.fallbacks)  # fmt: skip
        groups.setdefault(key, []).append(target)
    for same in groups.values():
        who = "" if len(groups) == 1 else f"{', '.join(target.label for target in same)}: "
        if same[0].assigned_value.by in FACTORS:
            yield _of_consensus(job, settings, same[0], who)
        else:
            yield from _of_stated(job, same[0], who)
    count = settings.laboratories
    if count is not None and count < FEWEST_ROBUST_SD and any(t.sigma_pt.by == "this round" for t in targets):
        yield PROBLEMS.problem("round-design-no-sigma", job.place("laboratories"), count=count, needed=FEWEST_ROBUST_SD)


def laboratories_needed(by: str, wide: float = 1.0) -> int:
    """Fewest laboratories with u(x_pt) ≤ 0.3 σ_pt by a consensus, if results scatter `wide` times as σ_pt allows.

    >>> laboratories_needed("algorithm A"), laboratories_needed("algorithm A", 1.5), laboratories_needed("kernel mode")
    (18, 40, 25)
    """
    return max(FEWEST[by], math.ceil((FACTORS[by] * wide / GOAL) ** 2 - 1e-9))


def _of_consensus(job: CheckInput, settings: ProficiencyRoundSettings, target: Target, who: str) -> Problem:
    by, count = target.assigned_value.by, settings.laboratories
    values = {
        "who": who,
        "by": by,
        "needed": laboratories_needed(by),
        "needed_wide": laboratories_needed(by, WIDE),
        "fallbacks": _fallbacks(target),
    }
    if count is None:
        return PROBLEMS.problem("round-design", job.place("assigned_value"), **values)
    values |= {"count": count, "ratio": f"{FACTORS[by] / math.sqrt(count):.2f}",
               "wide": f"{FACTORS[by] * WIDE / math.sqrt(count):.2f}"}  # fmt: skip
    if count < FEWEST[by]:
        return PROBLEMS.problem("round-design-none", job.place("laboratories"), fewest=FEWEST[by], **values)
    code = "round-design-short" if count < values["needed"] else "round-design-enough"
    return PROBLEMS.problem(code, job.place("laboratories"), **values)


def _fallbacks(target: Target) -> str:
    """The declared ways in their order, each with what it needs."""
    said = [
        f"{by} (from {FEWEST[by]} results on, {'up to 40 %' if by.startswith('median') else 'less than 5 %'} "
        "of them below a limit)"
        for by in target.assigned_value.fallbacks
    ]
    return ", then ".join(said) or "none"


def _of_stated(job: CheckInput, target: Target, who: str) -> Iterator[Problem]:
    """A stated value or that of experts: its uncertainty does not depend on how many laboratories take part."""
    from validate.studies.proficiency_round.assigning import declared_value, sigma_of

    found = declared_value(target)
    sigma, _ = sigma_of(target, found.value, None)
    values = {"who": who, "by": found.by, "fallbacks": _fallbacks(target)}
    if sigma is None or found.u is None:
        return
    code = "round-design-independent" if found.u <= GOAL * sigma else "round-design-uncertain"
    yield PROBLEMS.problem(code, job.place("assigned_value"), ratio=f"{found.u / sigma:.2f}", **values)
