"""What the study of a sample's material means for its scores, as the protocol declared beforehand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from validate.studies.contract import NeededFinding
from validate.studies.proficiency_round.settings import MaterialSettings, ProficiencyRoundSettings
from validate.vocabulary.quantity import conversion_factor
from validate.vocabulary.verdict import Verdict

SHARE = 0.3
"""Largest s_sam as a share of the σ_pt that scores (ISO 13528, from memory)."""
SLACK = 1e-9
WORST_FIRST = (Verdict.NOT_MET, Verdict.NOT_SHOWN, Verdict.MET)
Found = Mapping[str, NeededFinding]


@dataclass(frozen=True)
class Effect:
    """What follows for one target, in its unit; `told` are the warnings that go with it."""

    refused: str = ""
    widened_by: float = 0.0
    """s_sam in σ_pt."""
    carried: tuple[float, float] = (0.0, 0.0)
    """u_hom and u_stab in u(x_pt)."""
    told: tuple[str, ...] = ()


def effect_of(material: MaterialSettings, needed: tuple[NeededFinding, ...], sigma: float, unit: str) -> Effect:
    """The consequence of units that are not alike or do not stay so.

    `refuse` acts where unlikeness or a change is shown. Where nothing is shown either way, σ_pt is
    widened by s_sam, or u(x_pt) carries u_hom and u_stab where that was declared. The units are
    alike only if they are for the σ_pt of this round too, whatever σ_pt their study used.
    """
    found: Found = {each.finding.name: each for each in needed if each.study == material.study}
    share = worst_verdict(found, "s_sam_share")
    if share is None:
        return Effect(told=(f"Study {material.study} says nothing on the units: scores take them for alike.",))
    try:
        factor = conversion_factor(found["s_sam"].finding.unit, unit)
    except ValueError as reason:
        return Effect(told=(f"Study {material.study} cannot be used for these scores: {reason}.",))
    s_sam, u_hom, u_stab = (_value(found, name, factor) for name in ("s_sam", "u_hom", "u_stab"))
    stable = worst_verdict(found, "stability_share")
    told = []
    if share is Verdict.MET and s_sam > SHARE * sigma * (1 + SLACK):
        share = Verdict.NOT_SHOWN
        told.append(
            f"The units were held against another σ_pt; of the σ_pt of this round s_sam is {s_sam / sigma:.2f}, above "
            f"{SHARE}."
        )
    effect = _consequence(material, share, stable, (s_sam, u_hom, u_stab))
    return replace(effect, told=(*told, *effect.told, *_of_time(stable)))


def _consequence(
    material: MaterialSettings, share: Verdict, stable: Verdict | None, amounts: tuple[float, float, float]
) -> Effect:
    s_sam, u_hom, u_stab = amounts
    declared, unlike = material.when_not_sufficient, "is not shown to be sufficient"
    if share is Verdict.NOT_MET:
        unlike = "is not sufficient"
    if declared == "refuse" and share is Verdict.NOT_MET:
        return Effect(refused=f"homogeneity is not sufficient ({material.study})")
    if declared == "refuse" and stable is Verdict.NOT_MET:
        return Effect(refused=f"the material has changed with time ({material.study})")
    if declared == "carry" and (share is not Verdict.MET or stable not in (None, Verdict.MET)):
        what = "homogeneity" if share is not Verdict.MET else "stability"
        unlike = unlike if share is not Verdict.MET else "is not shown to be sufficient"
        words = f"u(x_pt) carries u_hom and u_stab, as declared beforehand: {what} {unlike}."
        return Effect(carried=(u_hom, u_stab), told=(words,))
    if share is Verdict.MET:
        return Effect()
    words = f"σ_pt is widened by the spread of the units, as declared beforehand: homogeneity {unlike}."
    if declared == "refuse":
        words = (
            "σ_pt is widened by the spread of the units: homogeneity is not shown either way, and scores are refused "
            "only for units that are proved unlike."
        )
    if s_sam == 0:
        words = f"Homogeneity {unlike}, and no spread of the units is known by which σ_pt could be widened."
    return Effect(widened_by=s_sam, told=(words,))


def _of_time(stable: Verdict | None) -> Iterator[str]:
    if stable is Verdict.NOT_MET:
        yield "The material has changed by more than 0.3 σ_pt: results of different dates do not compare."
    elif stable is Verdict.NOT_SHOWN:
        yield "It is not shown that the material stays as it is until the last result."


def worst_verdict(found: Found, name: str) -> Verdict | None:
    """The worst verdict on a finding; `not shown` where nothing judges it; None where there is no such finding."""
    if name not in found:
        return None
    return min(found[name].verdicts, key=WORST_FIRST.index, default=Verdict.NOT_SHOWN)


def _value(found: Found, name: str, factor: float) -> float:
    return (found[name].finding.value or 0.0) * factor if name in found else 0.0


ALIKE = {
    Verdict.MET: "sufficiently homogeneous",
    Verdict.NOT_SHOWN: "not shown to be sufficiently homogeneous",
    Verdict.NOT_MET: "not sufficiently homogeneous",
}
STABLE = {
    Verdict.MET: "stable",
    Verdict.NOT_SHOWN: "not shown to be stable",
    Verdict.NOT_MET: "not stable",
}


def spoken_of(settings: ProficiencyRoundSettings, needed: tuple[NeededFinding, ...]) -> dict[str, str]:
    """What is said of homogeneity and stability of each sample, by studies here or in words; or that nothing is."""
    items = settings.items
    return {
        "homogeneity": _spoken(settings, needed, "s_sam_share", ALIKE, items.homogeneity if items else None),
        "stability": _spoken(settings, needed, "stability_share", STABLE, items.stability if items else None),
    }


def _spoken(
    settings: ProficiencyRoundSettings,
    needed: tuple[NeededFinding, ...],
    finding: str,
    words: Mapping[Verdict, str],
    told: str | None,
) -> str:
    said, open_samples = [], list(settings.samples)
    for material in settings.materials:
        verdict = worst_verdict({each.finding.name: each for each in needed if each.study == material.study}, finding)
        if verdict is not None:
            said.append(f"{', '.join(material.samples)}: {words[verdict]} (study {material.study}).")
            open_samples = [sample for sample in open_samples if sample not in material.samples]
    if told:
        said.append(told)
    elif open_samples:
        said.append(f"{', '.join(open_samples)}: nothing is said.")
    return " ".join(said)
