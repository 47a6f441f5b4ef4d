"""The conclusion: counts of verdicts and what limits them, in sentences for the first page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from validate.vocabulary.evaluation import Conclusion, Gap, MinimumDesign, Requirement
from validate.vocabulary.verdict import Evidence, JudgeBy, Verdict


def conclude(
    requirements: Sequence[Requirement],
    gaps: Sequence[Gap],
    designs: Sequence[MinimumDesign],
    remarks: Iterable[str] = (),
) -> Conclusion:
    """Count the verdicts as reported and say what limits them.

    The first sentence names changed verdicts when treatment of the data (amendments,
    exclusions) changed any: that must not be read past.
    """
    verdicts = [r.as_reported.verdict for r in requirements]
    by_estimate = [r for r in requirements if r.criterion.judge_by is JudgeBy.ESTIMATE and _is_met(r)]
    firm = sum(r.as_reported.evidence is Evidence.FIRM for r in by_estimate)
    changed = tuple(
        f"{r.criterion.id}: {r.as_recorded.verdict} as recorded, {r.as_reported.verdict} as reported"
        for r in requirements
        if r.as_recorded.verdict is not r.as_reported.verdict
    )
    met, not_met, not_shown = (verdicts.count(v) for v in (Verdict.MET, Verdict.NOT_MET, Verdict.NOT_SHOWN))
    sentences = [
        *_changed_sentence(changed),
        *_count_sentences(len(verdicts), met, not_met, not_shown),
        *_evidence_sentence(len(by_estimate), firm),
        *_limits_sentences(requirements, gaps, designs),
        *remarks,
    ]
    return Conclusion(
        criteria=len(verdicts),
        met=met,
        not_met=not_met,
        not_shown=not_shown,
        firm=firm,
        by_estimate=len(by_estimate),
        sentences=tuple(sentences),
        changed_by_treatment=changed,
    )


def _is_met(requirement: Requirement) -> bool:
    return requirement.as_reported.verdict is Verdict.MET


def _changed_sentence(changed: Sequence[str]) -> list[str]:
    if not changed:
        return []
    return [
        f"Amendments or exclusions changed {_number(len(changed), 'verdict')}: " + "; ".join(changed) + "."
    ]


def _count_sentences(total: int, met: int, not_met: int, not_shown: int) -> list[str]:
    if total == 0:
        return ["No criterion was set; the findings stand without a verdict."]
    parts = [f"{met} of {total} criteria are met"]
    if not_met:
        parts.append(f"{not_met} {'is' if not_met == 1 else 'are'} not met")
    if not_shown:
        parts.append(f"{not_shown} {'is' if not_shown == 1 else 'are'} not shown")
    return [", ".join(parts) + "."]


def _evidence_sentence(by_estimate: int, firm: int) -> list[str]:
    if by_estimate == 0:
        return []
    return [
        f"Of {_number(by_estimate, 'criterion', 'criteria')} met by the estimate, as the source asks, "
        f"{firm} {'is' if firm == 1 else 'are'} firm: the interval lies on the right side of the limit too."
    ]


def _limits_sentences(
    requirements: Sequence[Requirement], gaps: Sequence[Gap], designs: Sequence[MinimumDesign]
) -> list[str]:
    sentences = []
    for verdict in (Verdict.NOT_MET, Verdict.NOT_SHOWN):
        names = [r.criterion.id for r in requirements if r.as_reported.verdict is verdict]
        if names:
            sentences.append(f"{str(verdict).capitalize()}: {_some(names)}.")
    if gaps:
        sentences.append(f"Expected by the purpose and not studied here: {_some([g.title for g in gaps], most=12)}.")
    short = [d for d in designs if d.short]
    if short:
        places = _some([f"{d.study} ({d.source})" for d in short])
        sentences.append(f"The design is smaller than a guide asks: {places}.")
    return sentences


def _number(count: int, one: str, many: str | None = None) -> str:
    return f"{count} {one if count == 1 else many or one + 's'}"


def _some(names: Sequence[str], most: int = 8) -> str:
    unique = list(dict.fromkeys(names))
    shown = ", ".join(unique[:most])
    return shown if len(unique) <= most else f"{shown} and {len(unique) - most} more"
