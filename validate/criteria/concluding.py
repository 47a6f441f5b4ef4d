"""The conclusion: counts of verdicts and what limits them, in sentences for the first page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence

from validate.vocabulary.evaluation import Conclusion, Criterion, Gap, MinimumDesign, Requirement
from validate.vocabulary.finding import inside_sentence
from validate.vocabulary.verdict import Evidence, JudgeBy, Verdict


def conclude(
    requirements: Sequence[Requirement],
    gaps: Sequence[Gap],
    designs: Sequence[MinimumDesign],
    *,
    unit: str,
    titles: Mapping[str, str],
) -> Conclusion:
    """Count the verdicts as reported and say what limits them.

    `unit` is the method's unit, `titles` gives the printed title of each study. The first sentence
    names the verdicts that amendments or exclusions changed: that must not be read past.
    """
    titles = _told_apart(titles)
    name = _naming(requirements, unit, titles)
    of = {v: [r for r in requirements if r.as_reported.verdict is v] for v in Verdict}
    by_estimate = [r for r in of[Verdict.MET] if r.criterion.judge_by is JudgeBy.ESTIMATE]
    firm = sum(r.as_reported.evidence is Evidence.FIRM for r in by_estimate)
    changed = [r for r in requirements if r.as_recorded.verdict is not r.as_reported.verdict]
    sentences = (
        *_changed_sentence(changed, name),
        *_count_sentence(len(requirements), *(len(of[v]) for v in Verdict)),
        *_evidence_sentence(len(by_estimate), firm),
        *(f"{str(v).capitalize()}: {'; '.join(name(of[v]))}." for v in (Verdict.NOT_MET, Verdict.NOT_SHOWN) if of[v]),
        *_short_sentence(designs, titles),
        *_gap_sentence(gaps),
    )
    return Conclusion(
        criteria=len(requirements),
        met=len(of[Verdict.MET]),
        not_met=len(of[Verdict.NOT_MET]),
        not_shown=len(of[Verdict.NOT_SHOWN]),
        firm=firm,
        by_estimate=len(by_estimate),
        sentences=sentences,
        changed_by_treatment=tuple(
            f"{name([r])[0]}: {r.as_recorded.verdict} as recorded, {r.as_reported.verdict} as reported" for r in changed
        ),
    )


def _told_apart(titles: Mapping[str, str]) -> dict[str, str]:
    """The titles, with the study's key where two studies have the same."""
    several = {title for title, count in Counter(titles.values()).items() if count > 1}
    return {study: f"{title}, {study}" if title in several else title for study, title in titles.items()}


Naming = Callable[[Iterable[Requirement]], list[str]]


def _naming(requirements: Sequence[Requirement], unit: str, titles: Mapping[str, str]) -> Naming:
    """Words for requirements: `mean recovery at 1, 5 and 40 µg/kg`, with the study where two studies give it."""
    studies_of: dict[str, set[str]] = {}
    for requirement in requirements:
        studies_of.setdefault(requirement.criterion.finding, set()).add(requirement.criterion.study)

    def name(some: Iterable[Requirement]) -> list[str]:
        groups: dict[tuple[str, str], list[Criterion]] = {}
        for requirement in some:
            criterion = requirement.criterion
            groups.setdefault((criterion.study, criterion.finding), []).append(criterion)
        words = []
        for (study, finding), criteria in groups.items():
            levels = list(dict.fromkeys(c.level for c in criteria if c.level is not None))
            text = inside_sentence(criteria[0].title or finding)
            text += f" at {_and(levels)} {unit}" if levels else ""
            several = len(studies_of[finding]) > 1
            words.append(f"{text} ({titles.get(study, study)})" if several and study else text)
        return words

    return name


def _changed_sentence(changed: Sequence[Requirement], name: Naming) -> list[str]:
    if not changed:
        return []
    ways: dict[str, list[Requirement]] = {}
    for requirement in changed:
        way = f"from {requirement.as_recorded.verdict} to {requirement.as_reported.verdict}"
        ways.setdefault(way, []).append(requirement)
    parts = [f"{way}: {_and(name(group))}" for way, group in ways.items()]
    verdicts = "a verdict" if len(changed) == 1 else f"{len(changed)} verdicts"
    return [f"Amendments or exclusions changed {verdicts}; {'; '.join(parts)}."]


def _count_sentence(total: int, met: int, not_met: int, not_shown: int) -> list[str]:
    if total == 0:
        return ["No criterion was set; the findings stand without a verdict."]
    criteria = "criterion" if total == 1 else "criteria"
    return [f"Of {total} {criteria} {met} met, {not_met} not met, {not_shown} not shown."]


def _evidence_sentence(by_estimate: int, firm: int) -> list[str]:
    if by_estimate == 0:
        return []
    if by_estimate == 1:
        holds = "holds" if firm else "does not hold"
        return [f"The one met by the estimate, as its source asks, {holds} for the whole interval too."]
    hold = {0: "none holds", 1: "1 holds"}.get(firm, f"{firm} hold")
    return [f"Of the {by_estimate} met by the estimate, as their source asks, {hold} for the whole interval too."]


def _short_sentence(designs: Sequence[MinimumDesign], titles: Mapping[str, str]) -> list[str]:
    short = dict.fromkeys(f"{titles.get(d.study, d.study)} ({d.source})" for d in designs if d.short)
    return [f"Smaller than a guide asks: {'; '.join(short)}."] if short else []


def _gap_sentence(gaps: Sequence[Gap]) -> list[str]:
    names = [inside_sentence(gap.title) for gap in gaps]
    return [f"Expected by the purpose and not studied here: {_and(names)}."] if gaps else []


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
