"""The verdict rules, one promise a test, in the order in which the judge applies them."""

from __future__ import annotations

import math

import pytest

from validate.vocabulary.finding import COUNTED
from validate.vocabulary.verdict import Evidence, JudgeBy, Verdict

MET, NOT_MET, NOT_SHOWN = Verdict.MET, Verdict.NOT_MET, Verdict.NOT_SHOWN
BASES = pytest.mark.parametrize("judge_by", list(JudgeBy))


# not shown, on both bases


@BASES
def test_a_claim_that_no_study_gives_is_not_shown(judged, criterion, judge_by):
    outcome = judged(criterion("lod", high=1, study="", level=None, kind="claim", judge_by=judge_by))
    assert outcome.verdict is NOT_SHOWN
    assert outcome.reason == "Limit of detection (lod): not shown, because no study of this protocol gives it."


@BASES
def test_a_study_without_data_is_not_shown(judged, criterion, judge_by):
    outcome = judged(criterion(high=20, judge_by=judge_by))
    assert outcome.verdict is NOT_SHOWN
    assert "has no results" in outcome.reason


@BASES
def test_a_missing_level_is_not_shown_although_others_are_met(judged, criterion, finding, judge_by):
    outcome = judged(criterion(high=20, level="10", judge_by=judge_by), finding(3, met=(2, 5)))
    assert outcome.verdict is NOT_SHOWN
    assert "at level 10" in outcome.reason


@BASES
def test_too_few_results_for_the_kind_is_not_shown(judged, criterion, finding, judge_by):
    outcome = judged(criterion(high=20, judge_by=judge_by), finding(3, met=(2, 5), n=4))
    assert outcome.verdict is NOT_SHOWN
    assert "4 results" in outcome.reason and "at least 5" in outcome.reason


def test_the_number_of_the_source_comes_before_that_of_the_kind(judged, criterion, finding):
    assert judged(criterion(high=20, minimum_n=3), finding(3, n=4)).verdict is MET
    assert judged(criterion(high=20, minimum_n=7), finding(3, n=6)).verdict is NOT_SHOWN


def test_too_few_days_for_intermediate_precision_is_not_shown(judged, criterion, finding):
    outcome = judged(criterion("rsd_intermediate", high=20), finding(3, "rsd_intermediate", groups=4))
    assert outcome.verdict is NOT_SHOWN
    assert "4 groups" in outcome.reason


def test_a_number_of_results_that_is_not_known_is_too_few(judged, criterion, finding):
    assert judged(criterion(high=20), finding(3, n=None)).verdict is NOT_SHOWN


@BASES
def test_a_figure_that_cannot_be_computed_is_not_shown_with_its_reason(judged, criterion, finding, judge_by):
    outcome = judged(criterion(high=20, judge_by=judge_by), finding(None, reason="the mean is not positive"))
    assert outcome.verdict is NOT_SHOWN
    assert "the mean is not positive" in outcome.reason


def test_the_finding_says_why_when_neither_value_nor_groups_exist(judged, criterion, finding):
    lacking = finding(None, "rsd_intermediate", groups=None, reason="no day is recorded")
    assert "no day is recorded" in judged(criterion("rsd_intermediate", high=20), lacking).reason


@BASES
@pytest.mark.parametrize("why", ["s = 0", "censored results at this level", "extrapolated"])
def test_a_blocked_figure_is_not_shown_although_there_is_a_value(judged, criterion, finding, judge_by, why):
    outcome = judged(criterion(high=20, judge_by=judge_by), finding(3, met=(2, 5), blocked=(why,)))
    assert outcome.verdict is NOT_SHOWN
    assert why in outcome.reason


# by the estimate


def test_an_estimate_at_the_bound_is_met(judged, criterion, finding):
    assert judged(criterion(high=20), finding(20)).verdict is MET


def test_the_comparison_is_unrounded(judged, criterion, finding):
    outcome = judged(criterion(high=20), finding(20.0001))
    assert outcome.verdict is NOT_MET
    assert "20.0001 %" in outcome.reason


def test_rounding_of_doubles_passes_the_bound_within_the_slack(judged, criterion, finding):
    """1.1/1.0·100 is 110.00000000000001 in doubles."""
    assert 1.1 / 1.0 * 100 > 110
    assert judged(criterion("mean_recovery", 70, 110), finding(1.1 / 1.0 * 100, "mean_recovery")).verdict is MET


@pytest.mark.parametrize(("share", "verdict"), [(0.99e-9, MET), (1.01e-9, NOT_MET)])
def test_the_slack_is_a_billionth_of_the_bound_at_both_ends(judged, criterion, finding, share, verdict):
    at = criterion("mean_recovery", 70, 120)
    assert judged(at, finding(120 * (1 + share), "mean_recovery")).verdict is verdict
    assert judged(at, finding(70 * (1 - share), "mean_recovery")).verdict is verdict


def test_an_estimate_outside_is_not_met_and_never_not_shown(judged, criterion, finding):
    assert judged(criterion(high=20), finding(21, met=(12, 40))).verdict is NOT_MET


def test_evidence_is_firm_where_the_interval_agrees(judged, criterion, finding):
    met = judged(criterion(high=20), finding(8, met=(5, 16)))
    not_met = judged(criterion(high=20), finding(40, met=(30, 70), not_met=(25, 90)))
    assert (met.verdict, met.evidence) == (MET, Evidence.FIRM)
    assert (not_met.verdict, not_met.evidence) == (NOT_MET, Evidence.FIRM)


def test_a_met_that_the_data_do_not_prove_says_so(judged, criterion, finding):
    outcome = judged(criterion(high=20), finding(12, met=(8, 25.1)))
    assert (outcome.verdict, outcome.evidence) == (MET, Evidence.LIMIT_WITHIN_INTERVAL)
    assert outcome.reason == (
        "rsd r at level 5 is 12.0 %, not above 20 %: met "
        "(by the estimate, as the source asks; the data do not exclude 25.1 %)."
    )


def test_a_not_met_that_the_data_do_not_prove_says_so(judged, criterion, finding):
    outcome = judged(criterion(high=20), finding(22, met=(16, 40), not_met=(14, 50)))
    assert (outcome.verdict, outcome.evidence) == (NOT_MET, Evidence.LIMIT_WITHIN_INTERVAL)
    assert "do not exclude 14.0 %" in outcome.reason


def test_without_an_interval_nothing_is_firm(judged, criterion, finding):
    outcome = judged(criterion(high=20), finding(2))
    assert (outcome.verdict, outcome.evidence) == (MET, Evidence.LIMIT_WITHIN_INTERVAL)


def test_evidence_belongs_to_verdicts_on_an_estimate_only(judged, criterion, finding):
    outcome = judged(criterion(high=20, judge_by=JudgeBy.INTERVAL), finding(8, met=(5, 16)))
    assert outcome.evidence is None and outcome.worth == ()


# by the interval


@pytest.mark.parametrize(
    ("met", "not_met", "verdict"),
    [
        ((5, 20), (4, 30), MET),
        ((5, 20.1), (4, 30), NOT_SHOWN),
        ((21, 40), (19.9, 50), NOT_SHOWN),
        ((21, 40), (20, 50), NOT_SHOWN),
        ((25, 40), (20.1, 50), NOT_MET),
        ((5, None), (4, None), NOT_SHOWN),
    ],
)
def test_an_upper_bound_is_judged_by_the_two_intervals(judged, criterion, finding, met, not_met, verdict):
    by_interval = criterion(high=20, judge_by=JudgeBy.INTERVAL)
    assert judged(by_interval, finding(10, met=met, not_met=not_met)).verdict is verdict


@pytest.mark.parametrize(
    ("met", "not_met", "verdict"),
    [
        ((70, 120), (60, 130), MET),
        ((69.9, 110), (60, 130), NOT_SHOWN),
        ((60, 69), (55, 70.1), NOT_SHOWN),
        ((60, 68), (55, 69.9), NOT_MET),
        ((125, 140), (121, 150), NOT_MET),
        ((60, 130), (50, 140), NOT_SHOWN),
    ],
)
def test_a_range_is_judged_by_the_two_intervals(judged, criterion, finding, met, not_met, verdict):
    by_interval = criterion("mean_recovery", 70, 120, judge_by=JudgeBy.INTERVAL)
    assert judged(by_interval, finding(95, "mean_recovery", met=met, not_met=not_met)).verdict is verdict


def test_a_lower_bound_is_judged_by_the_lower_end(judged, criterion, finding):
    by_interval = criterion("mean_recovery", low=95, judge_by=JudgeBy.INTERVAL)
    assert judged(by_interval, finding(97, "mean_recovery", met=(95, 101))).verdict is MET
    assert judged(by_interval, finding(97, "mean_recovery", met=(94, 101))).verdict is NOT_SHOWN
    assert judged(by_interval, finding(90, "mean_recovery", met=(85, 94.9))).verdict is NOT_MET


def test_the_interval_for_the_reader_is_never_used_for_a_verdict(judged, criterion, finding):
    from validate.vocabulary.finding import Interval

    shown = Interval(use="shown", level=0.95, low=5, high=15, method="constructed")
    only_shown = finding(8).__class__(
        name="rsd_r", level="5", value=8, unit="%", intervals=(shown,), n=6, formula="constructed", source="constructed"
    )
    assert judged(criterion(high=20, judge_by=JudgeBy.INTERVAL), only_shown).verdict is NOT_SHOWN


def test_the_sample_size_decides_what_is_firmly_shown(judged, criterion, finding):
    """Largest observed RSD that firmly shows at most 20 %: 8.4 (n=5), 9.6 (6), 12.2 (10), 14.6 (20)."""
    from scipy.special import chdtri

    for n, largest in ((5, 8.4), (6, 9.6), (10, 12.2), (20, 14.6)):
        factor = math.sqrt((n - 1) / chdtri(n - 1, 0.95))
        for observed, firm in ((largest - 0.05, True), (largest + 0.06, False)):
            outcome = judged(criterion(high=20), finding(observed, met=(observed / 2, observed * factor), n=n))
            assert (outcome.evidence is Evidence.FIRM) is firm, (n, observed)


@pytest.mark.parametrize(
    ("low", "high", "met", "not_met", "sentence"),
    [
        (None, 20, (5, 18), (4, 25), "the upper 95 % limit 18.0 % is not above 20 %: met."),
        (None, 20, (30, 50), (25, 60), "the lower 99 % limit 25.0 % is above 20 %: not met."),
        (None, 20, (5, 22), (4, 25), "the upper 95 % limit 22.0 % is above 20 %, and the data do not prove a value "
         "above 20 % either: not shown."),
        (8, None, (9, 18), (7, 25), "the lower 95 % limit 9.00 % is not below 8 %: met."),
        (8, None, (5, 7), (4, 7.5), "the upper 99 % limit 7.50 % is below 8 %: not met."),
        (8, 20, (9, 18), (8, 25), "the 90 % interval 9.00 % to 18.0 % lies inside 8 % to 20 %: met."),
        (8, 20, (30, 50), (25, 60), "the 98 % interval 25.0 % to 60.0 % lies wholly outside 8 % to 20 %: not met."),
    ],
)  # fmt: skip
def test_the_sentence_of_an_interval_verdict(judged, criterion, finding, low, high, met, not_met, sentence):
    outcome = judged(criterion(low=low, high=high, judge_by=JudgeBy.INTERVAL), finding(10, met=met, not_met=not_met))
    assert outcome.reason == f"rsd r at level 5 is 10.0 %; {sentence}"


@BASES
@pytest.mark.parametrize(
    ("counted", "sentence"), ((3, "is 3 %, above 0 %: not met"), (0, "is 0 %, not above 0 %: met"))
)
def test_a_count_reads_as_a_whole_number_without_limits(judged, criterion, finding, judge_by, counted, sentence):
    outcome = judged(criterion(high=0, judge_by=judge_by), finding(counted, met=(counted, counted), method=COUNTED))
    assert (
        outcome.reason.startswith(f"rsd r at level 5 {sentence}") and "(a count, without uncertainty)" in outcome.reason
    )
    assert outcome.evidence is not Evidence.LIMIT_WITHIN_INTERVAL


# levels


def test_levels_stand_for_themselves(judged_all, criterion, finding):
    """Intersection–union: one level that is not met does not touch the verdict on another."""
    criteria = [criterion(high=20, level=level) for level in ("1", "5", "10")]
    outcomes = judged_all(criteria, finding(8, level="1"), finding(30, level="5"), finding(9, level="10"))
    assert [outcome.verdict for outcome in outcomes] == [MET, NOT_MET, MET]


def test_met_by_interval_uses_the_undivided_interval_and_not_met_the_divided_one(judged, criterion, finding):
    by_interval = criterion(high=20, judge_by=JudgeBy.INTERVAL)
    assert judged(by_interval, finding(10, met=(8, 19), not_met=(6, 26))).verdict is MET
    assert judged(by_interval, finding(30, met=(21, 50), not_met=(18, 60))).verdict is NOT_SHOWN


# HorRat


HORRAT = "horrat_r-over-PRSD_R_horwitz-aoac"


@BASES
def test_a_horrat_below_its_range_is_met_with_a_query(judged, criterion, finding, judge_by):
    at = criterion(HORRAT, 0.3, 1.3, unit="", judge_by=judge_by)
    outcome = judged(at, finding(0.1, HORRAT, met=(0.05, 0.2)))
    assert outcome.verdict is MET
    assert "a query" in outcome.query and "below 0.3" in outcome.query


def test_a_horrat_inside_or_above_raises_no_query(judged, criterion, finding):
    at = criterion(HORRAT, 0.3, 1.3, unit="")
    assert judged(at, finding(0.3, HORRAT)).query == ""
    assert judged(at, finding(1.4, HORRAT)).verdict is NOT_MET


def test_a_bound_of_zero_holds_for_zero(judged, criterion, finding):
    assert judged(criterion("bias", 0, 0), finding(0.0, "bias")).verdict is MET


def test_an_estimate_and_an_interval_that_disagree_are_not_firm(judged, criterion, finding):
    outcome = judged(criterion(high=20), finding(19, met=(21, 40)))
    assert (outcome.verdict, outcome.evidence) == (MET, Evidence.LIMIT_WITHIN_INTERVAL)
