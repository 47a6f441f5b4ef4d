"""Detection limits from blanks, lines, spikes and trials at one level."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.stats.detection import (
    chance_of_detections,
    detections_needed,
    from_blanks,
    from_calibration,
    method_detection_limit,
    minimum_detectable,
    noncentrality,
    proportion,
    unusable_blanks,
)
from validate.stats.intervals import t_quantile
from validate.stats.regression import line

BLANKS = [0.1, 0.3, 0.2, 0.2, 0.4, 0.1, 0.3, 0.2, 0.1, 0.3]
FIT = line([0, 0, 1, 1, 2, 2, 4, 4], [0.2, 0.3, 1.3, 1.1, 2.3, 2.2, 4.4, 4.2])
SPIKES = [2.23, 2.05, 2.09, 2.2, 2.13, 2.18, 2.27, 2.09]

blanks = st.lists(st.integers(0, 60).map(lambda v: v / 10), min_size=3, max_size=12).filter(lambda v: len(set(v)) > 1)


@pytest.mark.parametrize(("df", "percent"), [(3, 5.6), (9, 2.5), (19, 1.3)])
def test_twice_t_exceeds_delta_by_a_few_per_cent(df, percent):
    assert 100 * (2 * t_quantile(0.95, df) / noncentrality(df) - 1) == pytest.approx(percent, abs=0.05)


@pytest.mark.parametrize(("n", "factor"), [(7, 1.915), (10, 1.645), (20, 1.370)])
def test_the_upper_limit_of_the_detection_limit(n, factor):
    found = from_blanks(np.arange(n))
    assert found.detection_upper / found.detection_concentration == pytest.approx(factor, abs=0.0005)


@given(blanks, st.floats(0.1, 50), st.integers(1, 4))
def test_gross_is_net_plus_the_mean_blank_and_an_amount_is_net_over_the_slope(values, slope, m):
    found = from_blanks(values, slope=slope, m=m)
    assert found.critical_gross - found.critical_net == pytest.approx(found.mean, rel=1e-9, abs=1e-9)
    assert found.detection_gross - found.detection_net == pytest.approx(found.mean, rel=1e-9, abs=1e-9)
    assert found.critical_concentration == pytest.approx(found.critical_net / slope)
    assert found.detection_concentration == pytest.approx(found.detection_net / slope)
    assert found.critical_net < found.detection_net < found.twice_t * slope


@given(blanks, st.floats(-100, 100), st.sampled_from([1e-3, 7.0]))
def test_a_common_blank_level_moves_only_the_gross_values(values, shift, scale):
    before, after = from_blanks(values), from_blanks((np.array(values) + shift) * scale)
    assert after.detection_net == pytest.approx(scale * before.detection_net, rel=1e-9)
    assert after.critical_gross == pytest.approx(scale * (before.critical_gross + shift), rel=1e-9, abs=1e-9)


def test_a_falling_signal_has_positive_limits():
    assert from_blanks(BLANKS, slope=-2).detection_concentration == pytest.approx(
        from_blanks(BLANKS, slope=2).detection_concentration
    )


def test_blanks_at_the_floor_or_without_scatter_are_told_what_to_measure_instead():
    assert unusable_blanks(BLANKS, resolution=0.1, floor=0) is None
    assert unusable_blanks([0, *BLANKS], floor=0).startswith("1 of 11 blanks reads the floor (0)")
    assert "less than half a step of the reading (1)" in unusable_blanks(BLANKS, resolution=1)
    assert "all 3 blanks are equal" in unusable_blanks([1, 1, 1])


def test_the_named_standard_deviation_is_the_one_used():
    residual = from_calibration(FIT, sd="residual")
    assert residual.sd == FIT.residual_sd and residual.df == 6 and residual.sd_kind.startswith("residual")
    assert residual.loq / residual.lod == pytest.approx(10 / 3.3)
    low = from_calibration(FIT, sd="blanks", responses=BLANKS)
    assert low.lod == pytest.approx(3.3 * np.std(BLANKS, ddof=1) / FIT.slope) and low.df == 9
    intercepts = from_calibration(FIT, sd="intercept", responses=[0.20, 0.25, 0.18, 0.22, 0.31])
    assert intercepts.sd == pytest.approx(np.std([0.20, 0.25, 0.18, 0.22, 0.31], ddof=1))


def test_the_line_detects_what_a_predicted_blank_would_not_reach():
    """ISO 11843-2 by hand: root² = 1/m + 1/N + x̄²/S_xx over all points."""
    found = minimum_detectable(FIT, m=2)
    x = np.array(FIT.x)
    root = math.sqrt(1 / 2 + 1 / 8 + x.mean() ** 2 / np.sum((x - x.mean()) ** 2))
    assert found.critical_signal == pytest.approx(FIT.intercept + t_quantile(0.95, 6) * FIT.residual_sd * root)
    assert found.critical_concentration == pytest.approx((found.critical_signal - FIT.intercept) / FIT.slope)
    assert found.minimum_detectable == pytest.approx(noncentrality(6) * FIT.residual_sd * root / FIT.slope)


def test_a_falling_line_mirrors_the_critical_signal():
    mirrored = minimum_detectable(line(FIT.x, -np.array(FIT.y)))
    assert mirrored.critical_signal == pytest.approx(-minimum_detectable(FIT).critical_signal)
    assert mirrored.minimum_detectable == pytest.approx(minimum_detectable(FIT).minimum_detectable)


def test_the_method_detection_limit_is_the_larger_of_two():
    low = method_detection_limit(SPIKES, [0.01, -0.02, 0.0, 0.01, 0.02, -0.01, 0.0])
    assert low.mdl == low.mdl_spiked > low.mdl_blank
    high = method_detection_limit(SPIKES, [0.5, 0.6, 0.4, 0.5, 0.7, 0.3, 0.5])
    assert (
        high.mdl
        == high.mdl_blank
        == pytest.approx(0.5 + t_quantile(0.99, 6) * np.std([0.5, 0.6, 0.4, 0.5, 0.7, 0.3, 0.5], ddof=1))
    )


def test_blanks_without_a_number_change_the_rule():
    some = method_detection_limit(SPIKES, [None, 0.4, None, 0.1, None, None, None])
    assert some.mdl == some.mdl_blank == 0.4 and some.blank_rule.startswith("highest blank")
    none = method_detection_limit(SPIKES, [None] * 7)
    assert none.mdl_blank is None and none.mdl == none.mdl_spiked


def test_a_negative_mean_blank_counts_as_zero():
    values = [-1.0, -1.1, -0.9, -1.0, -1.2, -0.8, -1.0]
    assert method_detection_limit(SPIKES, values).mdl_blank == pytest.approx(
        t_quantile(0.99, 6) * np.std(values, ddof=1)
    )


def test_more_than_a_hundred_blanks_may_use_a_percentile():
    values = np.linspace(0, 1, 101)
    assert method_detection_limit(SPIKES, values.tolist()).highest_percentile == pytest.approx(0.99)
    assert method_detection_limit(SPIKES, values[:100].tolist()).highest_percentile is None


@given(st.integers(1, 200), st.data())
def test_limits_of_a_proportion_bound_their_tails_exactly(n, data):
    x = data.draw(st.integers(0, n))
    found = proportion(x, n, level=0.9)
    assert found.low <= found.estimate <= found.high
    if x > 0:
        assert chance_of_detections(x, n, probability=found.low) == pytest.approx(0.05, rel=1e-8)
    if x < n:
        assert 1 - chance_of_detections(x + 1, n, probability=found.high) == pytest.approx(0.05, rel=1e-6)
    mirrored = proportion(n - x, n, level=0.9)
    assert (mirrored.low, mirrored.high) == pytest.approx((1 - found.high, 1 - found.low), abs=1e-12)


@given(st.integers(1, 400), st.sampled_from([0.5, 0.9, 0.95, 0.99]))
def test_detections_needed_is_the_first_count_whose_lower_limit_suffices(n, p):
    needed = detections_needed(n, probability=p)
    if needed is None:
        assert proportion(n, n, level=0.9).low < p
    else:
        assert proportion(needed, n, level=0.9).low >= p > proportion(needed - 1, n, level=0.9).low


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: from_blanks([0.1]), "1 blank found, at least 2 needed"),
        (lambda: from_blanks([0.1] * 10), "all 10 blanks are equal: measure samples at 1 to 3 times"),
        (lambda: from_blanks(BLANKS, slope=0), "slope is 0"),
        (lambda: from_blanks(BLANKS, m=0), "m must be a whole number, at least 1"),
        (lambda: from_blanks(BLANKS, alpha=5), "alpha must lie between"),
        (lambda: from_blanks(BLANKS, beta=0), "beta must lie between"),
        (lambda: noncentrality(0.5), "df must not be below 1"),
        (lambda: from_calibration(FIT, sd="other"), "unknown sd 'other'"),
        (lambda: from_calibration(FIT, sd="blanks"), "needs responses"),
        (lambda: from_calibration(FIT, sd="residual", responses=BLANKS), "responses were given too"),
        (
            lambda: from_calibration(FIT, sd="intercept", responses=[1, 2, 3, 4]),
            "4 intercepts found, at least 5 needed",
        ),
        (lambda: from_calibration(FIT, sd="blanks", responses=[1, 1]), "all 2 responses are equal"),
        (lambda: from_calibration(line([1, 2, 3], [1, 2, 4], [1, 2, 3]), sd="residual"), "weighted fit"),
        (lambda: minimum_detectable(line([1, 2, 3], [1, 2, 4], [1, 2, 3])), "weighted fit"),
        (lambda: minimum_detectable(line([1, 2, 3], [1, 2, 4], through_origin=True)), "through the origin"),
        (lambda: minimum_detectable(line([1, 2, 3], [1, 0, 1])), "slope is 0"),
        (lambda: method_detection_limit(SPIKES[:6]), "6 spiked results found, at least 7 needed"),
        (lambda: method_detection_limit(SPIKES, [0.1, 0.2]), "2 blanks found, at least 7 needed"),
        (lambda: proportion(3, 2), "3 detected of 2 trials"),
        (lambda: proportion(0, 0), "at least 1"),
        (lambda: proportion(1.5, 2), "whole number"),
        (lambda: chance_of_detections(1, 2, probability=1.1), "between 0 and 1"),
    ],
)
def test_a_limit_that_the_data_cannot_give_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()
