"""Claims that are proved otherwise than by a figure alone: samples detected near a limit, verdicts at levels.

A detection limit is no more than a prediction until samples near it were measured. A claim
`at most L` therefore needs a spiked level at or below L and 20 blanks. By the estimate it is
met when 95 % of the samples at the highest such level are detected and no more than 5 % of
the blanks; by the interval when the exact lower limit of that share reaches 95 %, or when the
upper limit of the figure is at most L and the samples do not speak against it. It is not
met when a level at or above L is detected too seldom, or when the lower limit of the figure
is above L. A quantification limit made of verdicts is met when a level at or below the
bound meets its criteria. Where two published rules stand, the stricter shows that a bound is met, and
only a figure that fails the milder one too is not met.
"""

from __future__ import annotations

import math
from dataclasses import replace

from validate.criteria.comparing import at_least, at_most
from validate.criteria.reasons import Reasons
from validate.criteria.words import number_words, with_unit
from validate.vocabulary.evaluation import Criterion, Judgement, PassChance
from validate.vocabulary.finding import DetectionEvidence, Finding, LevelVerdict, Trials
from validate.vocabulary.verdict import Evidence, JudgeBy, Verdict

NEEDED_SHARE, ALLOWED_SHARE = 0.95, 0.05
"""Of the samples detected, of the blanks detected."""
FEWEST_BLANKS = 20
FEWEST_TRIALS = 20
"""19 of 20 is the smallest number of samples that can miss one and still show 95 %."""
FORESEEN = (0.90, 0.95, 0.98)

Outcome = tuple[Verdict, str]
"""A verdict and the half sentence that gives it."""


def judge_by_evidence(criterion: Criterion, finding: Finding, reasons: Reasons) -> Judgement | None:
    """The verdict where the finding brings evidence for an upper bound; None where its value decides."""
    if criterion.high is None or criterion.low is not None:
        return None
    if finding.rules:
        return _of_rules(finding, reasons)
    if finding.levels_judged:
        return _of_levels(criterion, finding, reasons)
    if finding.detection is None:
        return None
    why, claimed = _not_confirmed(finding.detection, criterion, reasons), reasons.bound_in_words(criterion.high)
    if why is not None:
        return Judgement(verdict=Verdict.NOT_SHOWN, reason=reasons.because(why))
    query = _query(criterion, finding, reasons)
    interval = _by_interval(criterion.high, finding, claimed)
    if criterion.judge_by is JudgeBy.INTERVAL:
        return Judgement(verdict=interval[0], reason=reasons.sentence(*interval), query=query)
    estimate = _by_estimate(criterion.high, finding.detection, claimed)
    judgement = Judgement(verdict=estimate[0], reason=reasons.sentence(*estimate), query=query)
    if estimate[0] is Verdict.NOT_SHOWN:
        return judgement
    firm = interval[0] is estimate[0]
    evidence = Evidence.FIRM if firm else Evidence.LIMIT_WITHIN_INTERVAL
    return replace(judgement, evidence=evidence, worth=_worth(_tested(finding.detection, criterion.high)))


def _not_confirmed(evidence: DetectionEvidence, criterion: Criterion, reasons: Reasons) -> str | None:
    if _tested(evidence, criterion.high) is None:
        return f"no sample was measured at or below {reasons.bound_in_words(criterion.high)}: not confirmed"
    if evidence.blanks < FEWEST_BLANKS:
        blanks = "blank" if evidence.blanks == 1 else "blanks"
        return f"there are {evidence.blanks} {blanks} and a claim needs at least {FEWEST_BLANKS}"
    return None


def _by_estimate(claim: float, evidence: DetectionEvidence, claimed: str) -> Outcome:
    tested = _tested(evidence, claim)
    if not _few_false_positives(evidence):
        return Verdict.NOT_MET, f"{_blanks(evidence)}, more than 5 %"
    if tested.n >= FEWEST_TRIALS and _detected_often(tested):
        return Verdict.MET, f"{_share(tested)}, at least 95 %, and {_blanks(evidence)}, not more than 5 %"
    refuting = next((t for t in _from(evidence, claim) if t.n >= FEWEST_TRIALS and not _detected_often(t)), None)
    if refuting is not None:
        return Verdict.NOT_MET, f"{_share(refuting)}, less than 95 %"
    if tested.n < FEWEST_TRIALS:
        return Verdict.NOT_SHOWN, f"{_share(tested)}, and a claim needs at least {FEWEST_TRIALS} samples at that level"
    return Verdict.NOT_SHOWN, f"{_share(tested)}, less than 95 %, and nothing nearer to {claimed} decides"


def _by_interval(claim: float, finding: Finding, claimed: str) -> Outcome:
    evidence, met, not_met = finding.detection, finding.interval("met"), finding.interval("not_met")
    tested = _tested(evidence, claim)
    upper = None if met is None else met.high

    def figure(value: float) -> str:
        return with_unit(number_words(value, beside=(claim,)), finding.unit)

    if _few_false_positives(evidence):
        if at_least(tested.low, NEEDED_SHARE):
            return Verdict.MET, f"{_share(tested)}, lower 95 % limit {_percent(tested.low)}, and {_blanks(evidence)}"
        if upper is not None and at_most(upper, claim) and _detected_often(tested):
            words = f"upper 95 % limit of the figure {figure(upper)}, not above {claimed}"
            return Verdict.MET, f"{words}; {_share(tested)}, and {_blanks(evidence)}"
    refuting = next((t for t in _from(evidence, claim) if not at_least(t.high, NEEDED_SHARE)), None)
    if refuting is not None:
        return Verdict.NOT_MET, f"{_share(refuting)}, upper limit {_percent(refuting.high)}, below 95 %"
    if not_met is not None and not_met.low is not None and not at_most(not_met.low, claim):
        return (
            Verdict.NOT_MET,
            f"lower limit of the figure {figure(not_met.low)}, above {claimed}",
        )
    limit = "" if upper is None else f"; the upper 95 % limit of the figure is {figure(upper)}"
    return (
        Verdict.NOT_SHOWN,
        f"{_share(tested)}, which proves at least {_percent(tested.low)} and not 95 %{limit}; {_blanks(evidence)}",
    )


def _of_levels(criterion: Criterion, finding: Finding, reasons: Reasons) -> Judgement:
    """Met where a level at or below the bound meets its criteria; not met where each of them fails."""
    claimed = reasons.bound_in_words(criterion.high)
    reached = [each for each in finding.levels_judged if at_most(float(each.level), criterion.high)]
    if not reached:
        return Judgement(
            verdict=Verdict.NOT_SHOWN, reason=reasons.because(f"no level at or below {claimed} was judged")
        )
    meeting = next((each for each in reached if each.verdict is Verdict.MET), None)
    if meeting is not None:
        outcome = Verdict.MET, f"level {meeting.level} meets its criteria ({meeting.why}), not above {claimed}"
        return _with_evidence(criterion, outcome, [meeting], reasons)
    told = "; ".join(f"level {each.level}: {each.why}" for each in reached)
    if all(each.verdict is Verdict.NOT_MET for each in reached):
        outcome = Verdict.NOT_MET, f"no level up to {claimed} meets its criteria ({told})"
        return _with_evidence(criterion, outcome, reached, reasons)
    why = f"no level up to {claimed} is shown to meet its criteria ({told})"
    return Judgement(verdict=Verdict.NOT_SHOWN, reason=reasons.because(why))


def _of_rules(finding: Finding, reasons: Reasons) -> Judgement:
    """Met where the strictest rule holds, not met where the mildest fails, else not shown."""
    strictest, *_, mildest = (finding.rules[0], *finding.rules)
    if strictest.holds:
        return Judgement(verdict=Verdict.MET, reason=reasons.sentence(Verdict.MET, strictest.why))
    why = "; ".join(rule.why for rule in finding.rules)
    verdict = Verdict.NOT_SHOWN if mildest.holds else Verdict.NOT_MET
    return Judgement(verdict=verdict, reason=reasons.sentence(verdict, why))


def _with_evidence(criterion: Criterion, outcome: Outcome, on: list[LevelVerdict], reasons: Reasons) -> Judgement:
    """By the estimate the verdict is as firm as the verdicts that it rests on."""
    evidence = None
    if criterion.judge_by is JudgeBy.ESTIMATE:
        firm = all(each.evidence in (None, Evidence.FIRM) for each in on)
        evidence = Evidence.FIRM if firm else Evidence.LIMIT_WITHIN_INTERVAL
    return Judgement(verdict=outcome[0], reason=reasons.sentence(*outcome), evidence=evidence)


def _query(criterion: Criterion, finding: Finding, reasons: Reasons) -> str:
    if finding.value is None or at_most(finding.value, criterion.high):
        return ""
    return f"{reasons.found(finding)}, above the claim: samples near the limit decide, the figure asks why."


def _tested(evidence: DetectionEvidence, claim: float) -> Trials | None:
    """The highest level that is not above the claim."""
    return next((t for t in reversed(evidence.trials) if at_most(float(t.level), claim)), None)


def _from(evidence: DetectionEvidence, claim: float) -> list[Trials]:
    return [t for t in evidence.trials if at_least(float(t.level), claim)]


def _detected_often(trials: Trials) -> bool:
    return at_least(trials.detected, NEEDED_SHARE * trials.n)


def _few_false_positives(evidence: DetectionEvidence) -> bool:
    return at_most(evidence.false_positives, ALLOWED_SHARE * evidence.blanks)


def _share(trials: Trials) -> str:
    return f"{trials.detected} of {trials.n} samples at level {trials.level} were detected"


def _blanks(evidence: DetectionEvidence) -> str:
    return f"{evidence.false_positives} of {evidence.blanks} blanks counted as detected"


def _percent(share: float) -> str:
    return f"{number_words(100 * share, beside=(95.0,))} %"


def _worth(tested: Trials) -> tuple[PassChance, ...]:
    """How often methods that detect with these probabilities would have passed the count of samples."""
    from validate.stats.detection import chance_of_detections

    needed = math.ceil(NEEDED_SHARE * tested.n - 1e-9 * tested.n)
    return tuple(
        PassChance(
            truth=f"of samples at level {tested.level} detected",
            value=100 * p,
            unit="%",
            chance=chance_of_detections(needed, tested.n, probability=p),
        )
        for p in FORESEEN
    )
