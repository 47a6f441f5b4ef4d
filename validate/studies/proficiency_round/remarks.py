"""What a reader of a round must not miss, in sentences."""

from __future__ import annotations

import numpy as np

from validate.studies.proficiency_round.assigning import FEWEST_ROBUST_SD, Scale
from validate.studies.proficiency_round.scoring import FALSE_HIGH, FALSE_LOW, UNCERTAIN, Scores, censored_word
from validate.studies.proficiency_round.settings import ProficiencyRoundSettings
from validate.studies.proficiency_round.submitted import Submitted
from validate.studies.proficiency_round.suspicions import (
    WIDE_SCATTER,
    MethodGroup,
    Suspicion,
    most_frequent,
    second_mode,
)
from validate.vocabulary.evaluation import Remark


def remarks_of(
    settings: ProficiencyRoundSettings,
    sent: Submitted,
    scales: tuple[Scale, ...],
    scores: Scores,
    groups: tuple[MethodGroup, ...],
    blunders: tuple[Suspicion, ...],
    implausible: tuple[Suspicion, ...],
) -> tuple[Remark, ...]:
    """Warnings first, target by target; then flags; then notes."""
    found: list[Remark] = []
    for i, scale in enumerate(scales):
        found += _of_target(settings, sent, scale, scores, i)
    found += [
        Remark(
            kind="flag",
            level=g.target,
            text=f'Laboratories that use "{g.method}" differ from the others by {_shown(g.difference)}: methods '
            "may not measure the same, and one assigned value may not suit all.",
        )
        for g in groups
        if g.differs
    ]
    if blunders:
        found.append(
            Remark(
                kind="flag",
                text=f"{_results(len(blunders), 'looks like a blunder', 'look like blunders')} "
                "(factor of ten, unit, exchanged samples); nothing is left out for it, and the laboratory is "
                "asked.",
            )
        )
    if implausible:
        found.append(
            Remark(
                kind="flag",
                text=f"{len(implausible)} reported uncertainties are hard to believe; "
                "ζ and E_n of these results mean little.",
            )
        )
    if sent.factors:
        units = ", ".join(sorted(set(sent.factors.values())))
        found.append(
            Remark(
                kind="note",
                text=f"{_results(len(sent.factors), 'was', 'were')} reported in another unit ({units}) and converted.",
            )
        )
    if sent.k_assumed.any():
        found.append(
            Remark(kind="note", text=f"{int(sent.k_assumed.sum())} uncertainties came without k: 2 was assumed.")
        )
    return tuple(found)


def _of_target(
    settings: ProficiencyRoundSettings, sent: Submitted, scale: Scale, scores: Scores, i: int
) -> list[Remark]:
    said: list[tuple[str, str]] = []
    values = sent.numbers(i)
    if scale.consensus and len(values) < FEWEST_ROBUST_SD:
        said.append(("warning", f"Only {len(values)} results: the consensus is weak, the scores are for information."))
    if scale.refused:
        said.append(("warning", f"No scores: {scale.refused}."))
    if scale.chosen.value is None:
        said.append(("warning", f"No assigned value by {scale.chosen.by}: {scale.chosen.reason}. No scores."))
    elif scale.sigma is None:
        said.append(("warning", f"No σ_pt: {scale.sigma_reason}. No z scores."))
    if scale.fallback:
        said.append(
            (
                "warning",
                f"{scale.target.assigned_value.by} could not be used; {scale.chosen.by}, the fallback "
                "declared beforehand, gives the assigned value.",
            )
        )
    if scale.target.sigma_pt.by == "this round" and scale.sigma is not None:
        said.append(
            (
                "warning",
                "σ_pt is the spread of this very round: a score says how a laboratory compares with "
                "those who took part, not whether its result is fit for its use.",
            )
        )
    said += _of_uncertainty(settings, scale)
    said += [("warning", text) for text in scale.told]
    said += _of_distribution(scale, values)
    said += _of_censored(sent, scale, i)
    return [Remark(kind=kind, text=text, level=scale.target.label) for kind, text in said]


def _of_uncertainty(settings: ProficiencyRoundSettings, scale: Scale) -> list[tuple[str, str]]:
    if scale.ratio is None or scale.ratio <= UNCERTAIN:
        return []
    told = f"u(x_pt) is {scale.ratio:.2f} σ_pt, above 0.3"
    if not scale.consensus:
        return [("warning", f"{told}: z′, which allows for it, classifies the results.")]
    used = "z′" if settings.score == "z prime" else "z"
    return [
        (
            "warning",
            f"Assigned value uncertain: {told}. z and z′ stand side by side; {used} classifies, as declared. "
            "z′ assumes that x_pt does not depend on the result, but a consensus contains it.",
        )
    ]


def _of_distribution(scale: Scale, values: np.ndarray) -> list[tuple[str, str]]:
    said = []
    second = second_mode(scale)
    if second:
        wide = scale.sigma and scale.star and scale.star.sd and scale.star.sd > WIDE_SCATTER * scale.sigma
        chance = " Where results scatter more than σ_pt allows, chance makes second modes too." if wide else ""
        said.append(
            (
                "warning",
                f"The results have two modes, near {_shown(second[0])} and {_shown(second[1])}: the "
                f"second holds {second[2]:.0%} of them and appears in {second[3]:.0%} of bootstrap sets. A consensus "
                f"may stand for nobody.{chance}",
            )
        )
    frequent = most_frequent(values)
    if frequent:
        said.append(
            (
                "flag",
                f"{frequent[1]} of {len(values)} laboratories report {_shown(frequent[0])}: rounded or "
                "copied? Robust spreads come out too small.",
            )
        )
    if scale.star and scale.star.degenerate:
        said.append(("warning", f"No robust spread: {scale.star.reason}."))
    if scale.sigma and scale.star and scale.star.sd and scale.star.sd > 1.5 * scale.sigma:
        said.append(("note", "The laboratories scatter more than 1.5 times what the scheme allows."))
    return said


def _of_censored(sent: Submitted, scale: Scale, i: int) -> list[tuple[str, str]]:
    marks = sent.censored_of(i)
    if not marks:
        return []
    words = [censored_word(mark.limit, mark.side, scale) for mark in marks.values()]
    said = [
        ("note", f"{_results(len(marks), 'is', 'are')} given only as below or above a limit and never as a number.")
    ]
    for false, where in ((FALSE_LOW, "below"), (FALSE_HIGH, "above")):
        codes = [sent.laboratories[lab] for lab, word in zip(marks, words, strict=True) if word == false]
        if codes:
            said.append(("flag", f"{', '.join(codes)}: a limit far {where} the assigned value ({false})."))
    return said


def _results(count: int, one: str, many: str) -> str:
    return f"1 result {one}" if count == 1 else f"{count} results {many}"


def _shown(value: float) -> str:
    return f"{value:.4g}".replace("-", "−")


def limits_of_use(settings: ProficiencyRoundSettings, consensus: bool) -> tuple[str, ...]:
    """What scores of one round cannot tell."""
    said = [
        "One score is one result on one day: a sound laboratory gives a warning signal in about 1 of 20 and an action "
        "signal in about 3 of 1,000 results, if its results scatter as σ_pt allows.",
        "A score says nothing on other matrices, other levels, or on the sampling of a lot.",
    ]
    if consensus:
        said.append("A consensus is what most laboratories find; a bias that they share stays in it.")
    if len(settings.samples) > 1:
        said.append("Samples of one round are often measured in one run: their scores are not independent.")
    return tuple(said)
