"""Beside every verdict on an estimate: the chance that methods near the bound would have passed."""

from __future__ import annotations

import math

import numpy as np
import pytest

from validate.vocabulary.finding import Sampling
from validate.vocabulary.verdict import JudgeBy, Verdict

RSD = Sampling(kind="scaled_chi", df=5)
MEAN = Sampling(kind="mean", se=4.0, df=5)


def test_rsd_at_most_20_with_six_results(judged, criterion, finding):
    """89, 58 and 33 % at 0.75, 1 and 1.25 of the bound."""
    outcome = judged(criterion(high=20), finding(12, sampling=RSD))
    assert [chance.value for chance in outcome.worth] == [15, 20, 25]
    assert [round(100 * chance.chance) for chance in outcome.worth] == [89, 58, 33]
    assert outcome.worth[1].truth == "at the bound"


def test_a_range_is_tried_at_the_limit_nearer_to_the_estimate(judged, criterion, finding):
    at = criterion("mean_recovery", 70, 120)
    upper = judged(at, finding(110, "mean_recovery", sampling=MEAN)).worth
    lower = judged(at, finding(80, "mean_recovery", sampling=MEAN)).worth
    assert [chance.value for chance in upper] == [113.75, 120, 126.25]
    assert [chance.value for chance in lower] == [76.25, 70, 63.75]
    assert upper[1].chance == pytest.approx(0.5, abs=1e-6)
    assert "upper limit" in upper[0].truth and "lower limit" in lower[0].truth


def test_the_chance_is_given_for_a_verdict_of_not_met_too(judged, criterion, finding):
    outcome = judged(criterion(high=20), finding(30, sampling=RSD))
    assert outcome.verdict is Verdict.NOT_MET and len(outcome.worth) == 3


def test_a_horrat_is_tried_at_its_upper_end(judged, criterion, finding):
    name = "horrat_r-over-PRSD_R_horwitz-aoac"
    outcome = judged(criterion(name, 0.3, 1.3, unit=""), finding(0.8, name, sampling=RSD))
    assert [chance.value for chance in outcome.worth] == pytest.approx([0.975, 1.3, 1.625])


def test_a_negative_component_counts_as_zero_in_the_chances(judged, criterion, finding):
    """5 days × 2 with nothing between days: 0.85 and not 0.93 at 0.75 of the bound."""
    told = {}
    for floors in ((), (2.0,)):
        sampling = Sampling(kind="scaled_chi_sum", shares=(0.5, 0.5), dfs=(4.0, 5.0), floors=floors)
        told[floors] = judged(criterion(high=20), finding(12, sampling=sampling)).worth[0].chance
    assert told == {(): pytest.approx(0.93, abs=0.005), (2.0,): pytest.approx(0.85, abs=0.005)}


def test_no_chance_is_given_where_the_scatter_is_not_known(judged, criterion, finding):
    assert judged(criterion(high=20), finding(12)).worth == ()
    assert judged(criterion(high=20), finding(12, sampling=Sampling(kind="scaled_chi"))).worth == ()


def test_no_chance_is_given_for_a_true_value_that_cannot_be(judged, criterion, finding):
    """A spread cannot be 0, and a bound near the largest double is none that a method can have."""
    assert judged(criterion(high=0), finding(12, sampling=RSD)).worth == ()
    assert judged(criterion(high=1.7e308), finding(12, sampling=RSD)).worth == ()


def test_no_chance_is_given_beside_not_shown(judged, criterion, finding):
    assert judged(criterion(high=20), finding(12, n=3, sampling=RSD)).worth == ()


def test_levels_that_must_all_be_met_pass_together_less_often(judged_all, criterion, finding):
    """RSD ≤ 20 %, n = 6: 89 % at 0.75 of the bound for one level, 70 % for three."""
    levels = ("1", "5", "10")
    outcomes = judged_all(
        [criterion(high=20, level=level) for level in levels],
        *(finding(12, level=level, sampling=RSD) for level in levels),
    )
    for outcome in outcomes:
        assert len(outcome.worth) == 4 and outcome.worth[3].value == 15
        assert outcome.worth[3].chance == pytest.approx(0.70, abs=0.005)
        assert outcome.worth[3].truth == "0.75 of the bound, all 3 levels together"


def test_a_level_without_a_chance_leaves_the_chance_of_all_open(judged_all, criterion, finding):
    criteria = [criterion(high=20, level=level) for level in ("1", "5")]
    for other in (finding(12, level="5"), finding(12, level="5", n=3, sampling=RSD)):
        assert len(judged_all(criteria, finding(12, level="1", sampling=RSD), other)[0].worth) == 3


def test_levels_near_different_limits_have_no_chance_in_common(judged_all, criterion, finding):
    criteria = [criterion("mean_recovery", 70, 120, level=level) for level in ("1", "5")]
    low, high = (finding(x, "mean_recovery", level=at, sampling=MEAN) for x, at in ((80, "1"), (110, "5")))
    assert [len(outcome.worth) for outcome in judged_all(criteria, low, high)] == [3, 3]


@pytest.mark.slow
@pytest.mark.parametrize("judge_by", list(JudgeBy))
def test_the_judge_meets_the_bound_as_often_as_foreseen(judged, criterion, finding, judge_by):
    """Simulated P(met), RSD ≤ 20 %, n = 6, against pass_probability; 3 standard errors of 4,000 studies."""
    from validate.stats.design import pass_probability
    from validate.stats.intervals import sd_limits

    rng = np.random.default_rng(20310304)
    for truth in (10.0, 15.0, 20.0, 25.0):
        foreseen = pass_probability(truth, kind="scaled_chi", high=20, df=5, by=str(judge_by))
        met = 0
        for s in truth * np.sqrt(rng.chisquare(5, 4000) / 5):
            limits = sd_limits(float(s), 5, 0.90)
            one = finding(float(s), met=(limits.low, limits.high))
            met += judged(criterion(high=20, judge_by=judge_by), one).verdict is Verdict.MET
        assert met / 4000 == pytest.approx(foreseen, abs=3 * math.sqrt(foreseen * (1 - foreseen) / 4000) + 1e-12)
