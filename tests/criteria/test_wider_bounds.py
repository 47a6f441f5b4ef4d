"""A wider bound that counts only while other criteria at the same level are met."""

from dataclasses import replace

import pytest

from validate.vocabulary.evaluation import StudyResult, WiderBound
from validate.vocabulary.verdict import Verdict

MET, NOT_MET = Verdict.MET, Verdict.NOT_MET


def _wider():
    return WiderBound(low=50, high=130, when_met=("rsd_r", "rsd_intermediate"), wording="exceptionally 50 % to 130 %")


@pytest.fixture
def three(criterion):
    """Recovery with a wider bound, and the two criteria on which it depends."""
    return [
        criterion("mean_recovery", 70, 120, exception=_wider()),
        criterion("rsd_r", high=20),
        criterion("rsd_intermediate", high=20),
    ]


def test_the_wider_bound_counts_when_its_conditions_are_met(three, judged_all, finding):
    outcome, *_ = judged_all(three, finding(62, "mean_recovery"), finding(9), finding(12, "rsd_intermediate"))
    assert outcome.verdict is MET and outcome.used_exception
    assert "wider bound is used" in outcome.reason


@pytest.mark.parametrize(
    "precision",
    [
        {"rsd_r": 21.0, "rsd_intermediate": 12.0},
        {"rsd_r": 9.0, "rsd_intermediate": 21.0},
        {"rsd_r": 9.0},
        {"rsd_r": 9.0, "rsd_intermediate": None},
    ],
)
def test_the_wider_bound_does_not_count_when_a_condition_is_open(three, judged_all, finding, precision):
    others = [finding(value, name, reason=None if value else "no days") for name, value in precision.items()]
    outcome, *_ = judged_all(three, finding(62, "mean_recovery"), *others)
    assert outcome.verdict is NOT_MET and not outcome.used_exception
    assert "does not count" in outcome.reason


def test_a_condition_without_a_criterion_is_open(three, judged_all, finding):
    outcome, _ = judged_all(three[:2], finding(62, "mean_recovery"), finding(9), finding(12, "rsd_intermediate"))
    assert outcome.verdict is NOT_MET


def test_every_criterion_on_a_condition_must_be_met(three, criterion, judged_all, finding):
    """One source met and a stricter one not met: the condition is open."""
    stricter = criterion("rsd_r", high=5, source="another guide")
    findings = (finding(62, "mean_recovery"), finding(9), finding(12, "rsd_intermediate"))
    assert judged_all([*three, stricter], *findings)[0].verdict is NOT_MET


def test_conditions_hold_at_the_same_level_only(criterion, judged_all, finding):
    criteria = [
        criterion("mean_recovery", 70, 120, exception=_wider()),
        criterion("rsd_r", high=20, level="10"),
        criterion("rsd_intermediate", high=20, level="10"),
    ]
    good = (finding(9, level="10"), finding(12, "rsd_intermediate", level="10"))
    assert judged_all(criteria, finding(62, "mean_recovery"), *good)[0].verdict is NOT_MET


def test_a_recovery_outside_the_wider_bound_stays_not_met(three, judged_all, finding):
    outcome, *_ = judged_all(three, finding(45, "mean_recovery"), finding(9), finding(12, "rsd_intermediate"))
    assert outcome.verdict is NOT_MET and not outcome.used_exception


def test_a_recovery_inside_the_usual_bound_needs_no_exception(three, judged_all, finding):
    outcome, *_ = judged_all(three, finding(95, "mean_recovery"), finding(30), finding(30, "rsd_intermediate"))
    assert outcome.verdict is MET and not outcome.used_exception


def test_conditions_may_be_met_by_another_study_when_this_one_has_none(criterion, finding):
    from validate.criteria.judging import judge_all

    criteria = [
        criterion("mean_recovery", 70, 120, exception=_wider()),
        criterion("rsd_r", high=20, study="other"),
        criterion("rsd_intermediate", high=20, study="other"),
    ]
    results = {
        "trial": StudyResult(findings=(finding(62, "mean_recovery"),)),
        "other": StudyResult(findings=(finding(9), finding(12, "rsd_intermediate"))),
    }
    assert judge_all(criteria, results, {})[0].used_exception


def test_conditions_of_the_wider_bound_are_those_of_the_same_study(criterion, finding):
    """What another study shows at that level neither opens nor closes it."""
    from validate.criteria.judging import judge_all

    wider = WiderBound(low=50, high=130, when_met=("rsd_r",), wording="exceptionally 50 % to 130 %")
    recovery = criterion("mean_recovery", 70, 120, exception=wider)
    criteria = (recovery, criterion(high=20), criterion(high=20, study="other"))
    poor, good = finding(30, met=(25, 40)), finding(8, met=(6, 12))
    found = finding(60, "mean_recovery", met=(55, 65))
    for own, others, used in ((good, poor, True), (poor, good, False)):
        results = {"trial": StudyResult(findings=(found, own)), "other": StudyResult(findings=(others,))}
        assert judge_all(criteria, results, {})[0].used_exception is used


def test_conditions_of_the_wider_bound_are_named_in_words(three, judged_all, finding):
    """Names such as rsd_intermediate are for protocols."""
    titles = {"rsd_r": "Repeatability", "rsd_intermediate": "Intermediate precision"}
    named = [replace(each, title=titles.get(each.finding, "")) for each in three]
    open_ones = judged_all(
        named, finding(62, "mean_recovery", met=(55, 69)), finding(9), finding(30, "rsd_intermediate")
    )
    assert "because intermediate precision is not met at this level" in open_ones[0].reason
    used = judged_all(named, finding(62, "mean_recovery", met=(55, 69)), finding(9), finding(12, "rsd_intermediate"))
    assert "because repeatability and intermediate precision are met at this level" in used[0].reason
