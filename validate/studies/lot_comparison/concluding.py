"""One verdict on the lot (analyst, instrument, site) from the verdicts on all criteria, in words of its own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from validate.vocabulary.evaluation import Judgement, Requirement, StudyConclusion, StudyResult
from validate.vocabulary.verdict import Verdict

WORDS = {Verdict.MET: "accept", Verdict.NOT_MET: "do not accept", Verdict.NOT_SHOWN: "not shown"}
"""What is said of the lot for each verdict."""
MORE = "more@"
"""Facts under this key say what would decide a level."""


def conclude(result: StudyResult, requirements: tuple[Requirement, ...]) -> StudyConclusion | None:
    """Not met when any criterion is not met, else not shown when any is, else met; claims do not count."""
    asked = [r for r in requirements if r.criterion.kind == "criterion"]
    if not asked:
        return None
    verdict = _overall([r.as_reported for r in asked])
    return StudyConclusion(verdict=verdict, words=WORDS[verdict], sentences=tuple(_sentences(result, asked, verdict)))


def _overall(judgements: Sequence[Judgement]) -> Verdict:
    verdicts = {judgement.verdict for judgement in judgements}
    return next((v for v in (Verdict.NOT_MET, Verdict.NOT_SHOWN) if v in verdicts), Verdict.MET)


def _sentences(result: StudyResult, asked: Sequence[Requirement], verdict: Verdict) -> Iterator[str]:
    facts = result.facts
    recorded = _overall([r.as_recorded for r in asked])
    if recorded is not verdict:
        yield f"As recorded, without amendments and exclusions, the word would be: {WORDS[recorded]}."
    primary = [r for r in asked if r.criterion.finding == facts["primary"]]
    of_primary = _overall([r.as_reported for r in primary]) if primary else None
    if of_primary is Verdict.MET:
        yield facts["met"]
    for requirement in asked:
        judged, criterion = requirement.as_reported.verdict, requirement.criterion
        if judged is Verdict.MET:
            continue
        at = "" if criterion.level is None else f"At {criterion.level}{facts['in_units']}: "
        yield at + requirement.as_reported.reason
        more = facts.get(f"{MORE}{criterion.level or ''}", "")
        if judged is Verdict.NOT_SHOWN and criterion.finding == facts["primary"] and more:
            yield f"{more[0].upper()}{more[1:]}."
    if of_primary is Verdict.MET and verdict is not Verdict.MET:
        yield "What stands against acceptance is one of the other criteria."
