"""The judge: criteria and findings in, verdicts with their reasons out. It only compares.

Order of tests, first hit wins: not shown (nothing to judge, too few results, no figure, or
a figure that forbids a verdict); then the evidence that a finding brings for a claim
(`confirming`), else the estimate or the interval against the bound, as the criterion says.
Comparisons are inclusive and unrounded.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from validate.criteria.comparing import compare
from validate.criteria.confirming import judge_by_evidence
from validate.criteria.reasons import Reasons
from validate.criteria.worth import pass_chances, with_all_levels
from validate.studies.contract import Study
from validate.vocabulary.evaluation import Criterion, Judgement, StudyResult
from validate.vocabulary.finding import Finding, FindingKind
from validate.vocabulary.verdict import Evidence, JudgeBy, Verdict


def judge(criterion: Criterion, results: Mapping[str, StudyResult], kinds: Mapping[str, Study]) -> Judgement:
    """The verdict on one criterion by its own bound; a wider bound is the business of `judge_all`.

    `results` and `kinds` map the study's name in the protocol to its result and kind.
    """
    kind = _kind(criterion, kinds)
    reasons = Reasons.of(criterion, kind)
    finding = _finding(criterion, results)
    why = _not_shown(criterion, kind, finding, results, reasons)
    if why is not None or finding is None:
        return Judgement(verdict=Verdict.NOT_SHOWN, reason=why or reasons.no_result())
    by_evidence = judge_by_evidence(criterion, finding, reasons)
    if by_evidence is not None:
        return by_evidence
    comparison = compare(finding, criterion.low, criterion.high, lower_is_query=_lower_is_query(kind))
    query = reasons.query(finding) if comparison.below_query else ""
    if criterion.judge_by is JudgeBy.INTERVAL:
        return Judgement(verdict=comparison.by_interval, reason=reasons.by_interval(finding, comparison), query=query)
    firm = comparison.by_interval is comparison.by_estimate
    return Judgement(
        verdict=comparison.by_estimate,
        reason=reasons.by_estimate(finding, comparison, firm=firm),
        evidence=Evidence.FIRM if firm else Evidence.LIMIT_WITHIN_INTERVAL,
        query=query,
        worth=pass_chances(criterion, finding, lower_is_query=_lower_is_query(kind)),
    )


def judge_all(
    criteria: Sequence[Criterion], results: Mapping[str, StudyResult], kinds: Mapping[str, Study]
) -> tuple[Judgement, ...]:
    """Verdicts in the order of `criteria`; a wider bound counts where its condition is met.

    The condition is met when every criterion on each finding named there, at the same level
    of the same study (of any study, when that study has none), is met. All levels and
    all criteria stand for themselves: no error rate is divided for `met`.
    """
    plain = {id(criterion): judge(criterion, results, kinds) for criterion in criteria}
    judged = [_with_exception(criterion, criteria, plain, results, kinds) for criterion in criteria]
    return with_all_levels(criteria, judged)


def _with_exception(
    criterion: Criterion,
    criteria: Sequence[Criterion],
    plain: Mapping[int, Judgement],
    results: Mapping[str, StudyResult],
    kinds: Mapping[str, Study],
) -> Judgement:
    usual, wider = plain[id(criterion)], criterion.exception
    if wider is None or usual.verdict is Verdict.MET:
        return usual
    widened = judge(_widened(criterion), results, kinds)
    if widened.verdict is not Verdict.MET:
        return usual
    open_conditions = [
        name
        for name in wider.when_met
        if not _all_met(plain[id(each)] for each in _criteria_on(name, criterion, criteria))
    ]
    reasons = Reasons.of(criterion, _kind(criterion, kinds))
    in_words = [_in_words(name, criterion, criteria) for name in open_conditions or wider.when_met]
    if open_conditions:
        return replace(usual, reason=usual.reason + reasons.exception_closed(in_words))
    return replace(widened, reason=widened.reason + reasons.exception_used(in_words), used_exception=True)


def _widened(criterion: Criterion) -> Criterion:
    wider = criterion.exception
    return replace(criterion, low=wider.low, high=wider.high, exception=None)


def _criteria_on(name: str, beside: Criterion, criteria: Sequence[Criterion]) -> list[Criterion]:
    """The criteria (not claims) on a finding at the same level: of the same study if it has any."""
    there = [c for c in criteria if c.kind == "criterion" and c.finding == name and c.level == beside.level]
    return [c for c in there if c.study == beside.study] or there


def _in_words(name: str, beside: Criterion, criteria: Sequence[Criterion]) -> str:
    """The title of a condition, where a criterion on it has one."""
    title = next((each.title for each in _criteria_on(name, beside, criteria) if each.title), name)
    return f"{title[:1].lower()}{title[1:]}" if title[1:2].islower() and title.split()[0].istitle() else title


def _all_met(judgements: Iterable[Judgement]) -> bool:
    verdicts = [judgement.verdict for judgement in judgements]
    return bool(verdicts) and all(verdict is Verdict.MET for verdict in verdicts)


def _not_shown(
    criterion: Criterion,
    kind: FindingKind | None,
    finding: Finding | None,
    results: Mapping[str, StudyResult],
    reasons: Reasons,
) -> str | None:
    """Why nothing can be shown, or None."""
    if not criterion.study:
        return reasons.not_studied()
    if criterion.study not in results or not results[criterion.study].findings:
        return reasons.no_data()
    if finding is None:
        return reasons.no_result()
    needed_n = _first(criterion.minimum_n, kind.minimum_n if kind else None)
    needed_groups = _first(criterion.minimum_groups, kind.minimum_groups if kind else None)
    if _too_few(finding, finding.n, needed_n):
        return reasons.too_few_results(finding, needed_n)
    if _too_few(finding, finding.groups, needed_groups):
        return reasons.too_few_groups(finding, needed_groups)
    if finding.value is None and not finding.levels_judged:
        return reasons.no_value(finding)
    if finding.blocked:
        return reasons.blocked(finding)
    return None


def _too_few(finding: Finding, number: int | None, needed: int | None) -> bool:
    """Too few, or not known; where nothing was computed the finding's own reason says more than 'not known'."""
    if needed is None or (number is None and finding.value is None):
        return False
    return number is None or number < needed


def _finding(criterion: Criterion, results: Mapping[str, StudyResult]) -> Finding | None:
    result = results.get(criterion.study)
    return None if result is None else result.finding(criterion.finding, criterion.level)


def _kind(criterion: Criterion, kinds: Mapping[str, Study]) -> FindingKind | None:
    study = kinds.get(criterion.study)
    return None if study is None else study.finding(criterion.finding)


def _lower_is_query(kind: FindingKind | None) -> bool:
    return kind is not None and kind.lower_bound_is_query


def _first(*numbers: int | None) -> int | None:
    return next((number for number in numbers if number is not None), None)
