"""One word on the material: sufficient, not shown, not sufficient, and what follows as declared beforehand."""

from __future__ import annotations

from validate.studies.homogeneity.settings import CONSEQUENCE_WORDS
from validate.studies.homogeneity.tables import WORDS
from validate.vocabulary.evaluation import Requirement, StudyConclusion, StudyResult
from validate.vocabulary.verdict import Verdict

ORDER = (Verdict.NOT_MET, Verdict.NOT_SHOWN, Verdict.MET)
SUBJECTS = {"s_sam_share": "Homogeneity", "stability_share": "Stability"}


def conclude(result: StudyResult, requirements: tuple[Requirement, ...]) -> StudyConclusion | None:
    """The worse of homogeneity and stability; other criteria of the study stand for themselves."""
    verdicts = {r.criterion.finding: r.as_reported.verdict for r in requirements if r.criterion.finding in SUBJECTS}
    if not verdicts:
        return None
    worst = min(verdicts.values(), key=ORDER.index)
    parts = ", ".join(f"{SUBJECTS[name].lower()} {WORDS[verdict]}" for name, verdict in verdicts.items())
    return StudyConclusion(
        verdict=worst,
        words=WORDS[worst],
        sentences=(f"{parts[:1].upper()}{parts[1:]}.", *_what_follows(result, verdicts)),
    )


def _what_follows(result: StudyResult, verdicts: dict[str, Verdict]) -> tuple[str, ...]:
    declared = result.facts["when_not_sufficient"]
    homogeneity, stability = verdicts.get("s_sam_share"), verdicts.get("stability_share")
    doubted = {verdict for verdict in (homogeneity, stability) if verdict not in (None, Verdict.MET)}
    told = []
    if (declared == "carry" and doubted) or (declared == "refuse" and Verdict.NOT_MET in doubted):
        told.append(f"As declared beforehand: {CONSEQUENCE_WORDS[declared]}{_values(result, declared)}.")
    elif homogeneity is Verdict.MET:
        told.append("Units need no allowance: scores use σ_pt as it is.")
    elif homogeneity is Verdict.NOT_SHOWN:
        told.append(f"Nothing is shown either way: {CONSEQUENCE_WORDS['widen']}{_value(result, 'sigma_widened')}.")
    elif homogeneity is not None:
        told.append(f"As declared beforehand: {CONSEQUENCE_WORDS[declared]}{_values(result, declared)}.")
    if stability is Verdict.NOT_MET:
        told.append(
            "The material has changed by more than the scheme allows: results of different dates do not compare."
        )
    elif stability is Verdict.NOT_SHOWN:
        told.append(f"A change that matters is not excluded; u_stab is stated{_value(result, 'u_stab')}.")
    return tuple(told)


def _values(result: StudyResult, declared: str) -> str:
    name = {"widen": "sigma_widened", "carry": "u_hom"}.get(declared)
    return "" if name is None else _value(result, name)


def _value(result: StudyResult, name: str) -> str:
    found = result.finding(name)
    if found is None or found.value is None:
        return ""
    symbol = {"sigma_widened": "σ′", "u_hom": "u_hom", "u_stab": "u_stab"}[name]
    return f" ({symbol} = {found.value:.3g} {found.unit})"
