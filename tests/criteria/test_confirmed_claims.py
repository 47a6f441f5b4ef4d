"""Claims of a detection or quantification limit: the evidence near the limit decides, not the figure alone."""

from __future__ import annotations

import pytest

from validate.stats.detection import proportion
from validate.vocabulary.finding import DetectionEvidence, LevelVerdict, RuleOutcome, Trials
from validate.vocabulary.verdict import Evidence, JudgeBy, Verdict

MET, NOT_MET, NOT_SHOWN = Verdict.MET, Verdict.NOT_MET, Verdict.NOT_SHOWN
BASES = pytest.mark.parametrize("judge_by", list(JudgeBy))


def trials(level: str, detected: int, n: int) -> Trials:
    limits = proportion(detected, n, level=0.90)
    return Trials(level=level, n=n, detected=detected, low=limits.low, high=limits.high)


def evidence(*tested: Trials, blanks: int = 20, false_positives: int = 0) -> DetectionEvidence:
    return DetectionEvidence(blanks=blanks, false_positives=false_positives, trials=tested)


@pytest.fixture
def claim(judged, criterion, finding):
    """The judgement on `lod at most 1`, by evidence and by the figure's own interval."""

    def judge(judge_by: JudgeBy, found: DetectionEvidence, *, value=0.6, met=None, not_met=None):
        asked = criterion("loq", high=1, level=None, kind="claim", judge_by=judge_by)
        return judged(asked, finding(value, "loq", level=None, met=met, not_met=not_met, detection=found))

    return judge


@BASES
def test_a_limit_that_no_sample_near_it_confirms_is_not_shown(claim, judge_by):
    outcome = claim(judge_by, evidence(trials("2", 59, 59)), met=(0.4, 0.9))
    assert outcome.verdict is NOT_SHOWN
    assert "not confirmed" in outcome.reason


@BASES
def test_fewer_than_20_blanks_show_nothing(claim, judge_by):
    assert claim(judge_by, evidence(trials("1", 59, 59), blanks=19)).verdict is NOT_SHOWN
    assert claim(judge_by, evidence(trials("1", 59, 59), blanks=20)).verdict is MET


@pytest.mark.parametrize(
    ("detected", "n", "verdict"),
    [(19, 20, MET), (18, 20, NOT_MET), (19, 19, NOT_SHOWN), (57, 60, MET), (56, 60, NOT_MET)],
)
def test_point_rule_is_95_percent_of_at_least_20_samples(claim, detected, n, verdict):
    assert claim(JudgeBy.ESTIMATE, evidence(trials("1", detected, n))).verdict is verdict


@pytest.mark.parametrize(
    ("detected", "n", "verdict"),
    [(59, 59, MET), (58, 58, NOT_SHOWN), (92, 93, MET), (91, 93, NOT_SHOWN), (122, 124, MET), (20, 20, NOT_SHOWN)],
)
def test_bound_rule_is_the_exact_lower_limit(claim, detected, n, verdict):
    assert claim(JudgeBy.INTERVAL, evidence(trials("1", detected, n))).verdict is verdict


def test_bound_rule_can_rest_on_the_upper_limit_of_the_figure_when_samples_near_agree(claim):
    near = evidence(trials("1", 10, 10))
    assert claim(JudgeBy.INTERVAL, near, met=(0.4, 1.0)).verdict is MET
    assert claim(JudgeBy.INTERVAL, near, met=(0.4, 1.01)).verdict is NOT_SHOWN
    assert claim(JudgeBy.INTERVAL, evidence(trials("1", 8, 10)), met=(0.4, 0.9)).verdict is not MET


@BASES
def test_false_positives_above_5_percent_are_never_met(claim, judge_by):
    found = evidence(trials("1", 59, 59), blanks=20, false_positives=2)
    assert claim(judge_by, found, met=(0.4, 0.9)).verdict is not MET
    assert claim(judge_by, evidence(trials("1", 59, 59), blanks=20, false_positives=1)).verdict is MET


@BASES
def test_a_level_at_or_above_the_claim_that_is_detected_too_seldom_refutes_it(claim, judge_by):
    assert claim(judge_by, evidence(trials("1", 10, 20))).verdict is NOT_MET
    assert claim(judge_by, evidence(trials("0.5", 8, 20), trials("2", 10, 20))).verdict is NOT_MET


@BASES
def test_a_level_below_the_claim_that_is_missed_proves_nothing_against_it(claim, judge_by):
    assert claim(judge_by, evidence(trials("0.3", 10, 20))).verdict is NOT_SHOWN


def test_a_figure_wholly_above_the_claim_refutes_it_by_the_interval(claim):
    found = evidence(trials("0.5", 4, 20))
    assert claim(JudgeBy.INTERVAL, found, value=2, met=(1.4, 3), not_met=(1.2, 4)).verdict is NOT_MET


def test_the_highest_level_up_to_the_claim_is_the_one_that_counts(claim):
    found = evidence(trials("0.3", 5, 20), trials("0.9", 20, 20))
    assert claim(JudgeBy.ESTIMATE, found).verdict is MET


def test_a_verdict_by_the_estimate_says_what_it_is_worth(claim):
    outcome = claim(JudgeBy.ESTIMATE, evidence(trials("1", 20, 20)))
    assert outcome.evidence is Evidence.LIMIT_WITHIN_INTERVAL
    assert [round(chance.chance, 2) for chance in outcome.worth][:2] == [0.39, 0.74]
    assert claim(JudgeBy.ESTIMATE, evidence(trials("1", 59, 59))).evidence is Evidence.FIRM


def test_a_figure_above_the_claim_is_a_query_beside_samples_that_were_detected(claim):
    assert "above the claim" in claim(JudgeBy.ESTIMATE, evidence(trials("1", 20, 20)), value=1.4).query
    assert claim(JudgeBy.ESTIMATE, evidence(trials("1", 20, 20)), value=1.0).query == ""


def level(name: str, verdict: Verdict, firm: Evidence | None = None) -> LevelVerdict:
    return LevelVerdict(level=name, verdict=verdict, evidence=firm, why="constructed")


@pytest.fixture
def limit(judged, criterion, finding):
    """The judgement on `loq at most 2.5` made of verdicts at levels."""

    def judge(judge_by: JudgeBy, *levels: LevelVerdict):
        asked = criterion("loq", high=2.5, level=None, judge_by=judge_by)
        met = next((float(each.level) for each in levels if each.verdict is MET), None)
        reason = None if met is not None else "no level meets its criteria"
        return judged(asked, finding(met, "loq", level=None, reason=reason, levels_judged=levels))

    return judge


@BASES
def test_a_level_up_to_the_bound_that_meets_its_criteria_is_enough(limit, judge_by):
    assert limit(judge_by, level("1", NOT_MET), level("2.5", MET)).verdict is MET


@BASES
def test_levels_that_all_fail_refute_and_levels_in_doubt_show_nothing(limit, judge_by):
    assert limit(judge_by, level("1", NOT_MET), level("2.5", NOT_MET), level("5", MET)).verdict is NOT_MET
    assert limit(judge_by, level("1", NOT_MET), level("2.5", NOT_SHOWN), level("5", MET)).verdict is NOT_SHOWN


@BASES
def test_no_level_up_to_the_bound_shows_nothing(limit, judge_by):
    assert limit(judge_by, level("5", MET)).verdict is NOT_SHOWN


def test_a_limit_made_of_verdicts_is_as_firm_as_they_are(limit):
    assert limit(JudgeBy.ESTIMATE, level("1", MET, Evidence.FIRM)).evidence is Evidence.FIRM
    inside = level("1", MET, Evidence.LIMIT_WITHIN_INTERVAL)
    assert limit(JudgeBy.ESTIMATE, inside).evidence is Evidence.LIMIT_WITHIN_INTERVAL
    assert limit(JudgeBy.INTERVAL, inside).evidence is None


@BASES
@pytest.mark.parametrize(
    ("holds", "verdict"), [((True, True), MET), ((False, True), NOT_SHOWN), ((False, False), NOT_MET)]
)
def test_two_published_rules_show_met_by_the_stricter_and_not_met_by_the_milder(
    judged, criterion, finding, judge_by, holds, verdict
):
    rules = tuple(RuleOutcome(name=n, holds=h, why=f"{n} {h}") for n, h in zip(("strict", "mild"), holds, strict=True))
    asked = criterion("s_sam_share", high=0.3, level=None, judge_by=judge_by)
    outcome = judged(asked, finding(0.4, "s_sam_share", level=None, rules=rules))
    assert outcome.verdict is verdict
    assert "strict" in outcome.reason and ("mild" in outcome.reason) is (verdict is not MET)
