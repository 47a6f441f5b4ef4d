"""The probability of detection over the level."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from validate.stats.detection import probability_of_detection, proportion

LEVELS, N, DETECTED = [1, 2, 4, 8], [20] * 4, [5, 9, 17, 20]
CHI2_95 = 3.841458820694124


def log_likelihood(a, b, levels=LEVELS, n=N, detected=DETECTED):
    rate = np.exp(a + b * np.log(levels))
    k, n = np.array(detected), np.array(n)
    return float(np.sum(k * np.log(-np.expm1(-rate)) - (n - k) * rate))


def test_the_estimate_is_the_maximum_of_the_likelihood():
    curve = probability_of_detection(LEVELS, N, DETECTED, model="cloglog")
    best = log_likelihood(curve.intercept, curve.slope)
    assert best == pytest.approx(curve.log_likelihood, abs=1e-10)
    for da, db in ((1e-3, 0), (-1e-3, 0), (0, 1e-3), (0, -1e-3)):
        assert log_likelihood(curve.intercept + da, curve.slope + db) < best


@pytest.mark.parametrize("name", ["level_50", "level_95"])
def test_a_limit_is_where_the_best_likelihood_falls_by_half_of_chi_square(name):
    curve = probability_of_detection(LEVELS, N, DETECTED, model="cloglog")
    found = getattr(curve, name)
    target = math.log(-math.log1p(-found.probability))
    for end in (found.low, found.high):
        profile = max(log_likelihood(target - b * math.log(end), b) for b in np.linspace(0.1, 5, 49_001))
        assert 2 * (curve.log_likelihood - profile) == pytest.approx(CHI2_95, abs=1e-5)


def test_a_fixed_slope_of_one_is_a_detection_for_each_unit_hit():
    curve = probability_of_detection(LEVELS, N, DETECTED, model="cloglog-slope-1")
    rate = math.exp(curve.intercept)
    assert curve.slope == 1 and curve.se_slope is None and curve.df == 3
    assert curve.level_50.value == pytest.approx(math.log(2) / rate)
    assert curve.level_95.value == pytest.approx(-math.log(0.05) / rate)
    assert curve.level_95.low / curve.level_50.low == pytest.approx(curve.level_95.value / curve.level_50.value)
    fall = log_likelihood(curve.intercept, 1) - log_likelihood(
        curve.intercept + math.log(curve.level_50.value / curve.level_50.high), 1
    )
    assert 2 * fall == pytest.approx(CHI2_95, rel=1e-8)


@pytest.mark.parametrize("model", ["cloglog", "logit", "probit", "cloglog-slope-1"])
def test_the_curve_passes_through_its_own_levels(model):
    curve = probability_of_detection(LEVELS, N, DETECTED, model=model)
    assert curve.probability([curve.level_50.value, curve.level_95.value]) == pytest.approx([0.5, 0.95])


def test_level_zero_is_a_false_positive_rate_and_no_point_of_the_curve():
    without = probability_of_detection(LEVELS, N, DETECTED, model="logit")
    with_blanks = probability_of_detection([0, *LEVELS, 0], [20, *N, 10], [1, *DETECTED, 0], model="logit")
    assert with_blanks.false_positive == proportion(1, 30) and without.false_positive is None
    assert (with_blanks.intercept, with_blanks.level_95) == (without.intercept, without.level_95)


@given(st.lists(st.integers(0, 20), min_size=4, max_size=4), st.sampled_from(["cloglog", "logit", "probit"]))
@settings(max_examples=60, deadline=None)
def test_every_outcome_gives_a_rising_curve_or_a_reason(detected, model):
    curve = probability_of_detection(LEVELS, N, detected, model=model)
    if curve.reason is not None:
        assert curve.level_50 is None and curve.slope is None and curve.deviance is None
        return
    assert curve.slope > 0 and curve.deviance >= 0 and math.isfinite(curve.se_slope)
    for found in (curve.level_50, curve.level_95):
        assert (found.reason is None) == (found.low is not None and found.high is not None)
        if found.value is None:
            assert found.extrapolated and found.reason is not None
            continue
        assert found.low is None or found.low < found.value
        assert found.high is None or found.high > found.value


@given(st.sampled_from([1e-6, 30.0, 1e4]))
@settings(deadline=None)
def test_the_unit_of_the_level_does_not_matter(factor):
    before = probability_of_detection(LEVELS, N, DETECTED, model="probit")
    after = probability_of_detection(np.array(LEVELS) * factor, N, DETECTED, model="probit")
    assert after.slope == pytest.approx(before.slope, rel=1e-9)
    for name in ("value", "low", "high"):
        assert getattr(after.level_95, name) == pytest.approx(factor * getattr(before.level_95, name), rel=1e-9)


def test_rows_of_one_level_may_be_split():
    split = probability_of_detection([1, 1, 2, 4, 8], [10, 10, 20, 20, 20], [2, 3, 9, 17, 20], model="cloglog")
    assert split.level_95.high == pytest.approx(
        probability_of_detection(LEVELS, N, DETECTED, model="cloglog").level_95.high, rel=1e-9
    )


def test_logit_is_mirrored_when_detected_and_missed_and_the_order_change_places():
    curve = probability_of_detection([1, 2, 4, 8], N, [2, 6, 13, 19], model="logit")
    mirrored = probability_of_detection([1 / 8, 1 / 4, 1 / 2, 1], N, [1, 7, 14, 18], model="logit")
    assert mirrored.slope == pytest.approx(curve.slope)
    assert mirrored.level_50.low == pytest.approx(1 / curve.level_50.high)


@pytest.mark.parametrize(
    ("detected", "reason"),
    [
        ([0, 0, 0, 0], "nothing was detected"),
        ([20, 20, 20, 20], "everything was detected"),
        ([0, 0, 20, 20], "complete separation"),
        ([0, 7, 20, 20], "complete separation"),
        ([20, 7, 0, 0], "does not rise"),
        ([12, 10, 9, 7], "does not rise"),
    ],
)
def test_what_has_no_curve_says_why(detected, reason):
    curve = probability_of_detection(LEVELS, N, detected, model="cloglog")
    assert reason in curve.reason and curve.level_95 is None
    with pytest.raises(ValueError, match=reason):
        curve.probability(1.0)


def test_a_slope_that_could_be_zero_bounds_no_level():
    found = probability_of_detection([1, 2], [24, 24], [12, 13], model="cloglog").level_50
    assert found.low is found.high is None and "not distinguishable" in found.reason


def test_a_level_beyond_those_tried_is_extrapolated():
    curve = probability_of_detection([1, 2], [20, 20], [4, 12], model="cloglog")
    assert curve.level_95.extrapolated and not curve.level_50.extrapolated


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (([1, 2], [20, 20], [1]), "2 levels, 2 n and 1 detected"),
        (([-1, 2], [20, 20], [1, 5]), "below 0"),
        (([1, 2], [20, 20], [1, 21]), "whole numbers"),
        (([1, 2], [20, 20], [1, 5.5]), "whole numbers"),
        (([1, 0], [20, 20], [1, 5]), "1 levels above 0 found, at least 2 needed"),
    ],
)
def test_tables_that_are_no_trials_are_refused(arguments, message):
    with pytest.raises(ValueError, match=message):
        probability_of_detection(*arguments, model="cloglog")
    with pytest.raises(ValueError, match="unknown model"):
        probability_of_detection(LEVELS, N, DETECTED, model="other")
