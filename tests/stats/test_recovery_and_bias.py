"""Recovery and bias: the error budget, days, native content, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.stats.descriptive import summary
from validate.stats.trueness import SPIKE_TOO_SMALL, bias_test, recovery

FOUND = [4.6, 4.9, 4.4, 4.8, 4.7, 4.5]
hundredths = st.integers(1, 2000).map(lambda v: v / 100)
results = st.lists(hundredths, min_size=3, max_size=8).filter(lambda v: len(set(v)) > 1)


@given(results, st.floats(0.5, 50))
def test_without_native_content_recovery_is_the_mean_in_per_cent_of_what_was_added(found, added):
    r, mean = recovery(found, added), summary(found)
    assert (r.percent, r.u, r.low, r.df) == pytest.approx(
        (100 * mean.mean / added, 100 * mean.u / added, 100 * mean.low / added, mean.df), rel=1e-9, abs=1e-9
    )


@given(results, st.sampled_from([1e-3, 12.5, 1e4]))
def test_the_unit_of_the_results_does_not_matter(found, scale):
    before = recovery(found, 5, [0.2, 0.3, 0.1], u_added=0.1)
    after = recovery(np.array(found) * scale, 5 * scale, np.array([0.2, 0.3, 0.1]) * scale, u_added=0.1 * scale)
    assert (after.percent, after.u, after.df) == pytest.approx((before.percent, before.u, before.df), rel=1e-9)


def test_the_uncertainty_has_a_part_each_from_found_native_and_added():
    native = [0.5, 0.7, 0.6]
    r = recovery(FOUND, 5, native, u_added=0.1)
    s2, n2 = np.var(FOUND, ddof=1), np.var(native, ddof=1)
    assert r.percent == pytest.approx(100 * (np.mean(FOUND) - 0.6) / 5)
    parts = (20**2 * s2 / 6, 20**2 * n2 / 3, (r.percent * 0.1 / 5) ** 2)
    assert (r.u_found**2, r.u_native**2, r.u_added**2) == pytest.approx(parts)
    assert r.u == pytest.approx(math.sqrt(sum(parts)))
    assert r.df == pytest.approx(sum(parts) ** 2 / (parts[0] ** 2 / 5 + parts[1] ** 2 / 2))


def test_results_of_days_count_by_day():
    days = [1, 1, 2, 2, 3, 3]
    r, mean = recovery(FOUND, 5, groups=days), summary(FOUND, days)
    assert (r.percent, r.u, r.df, r.n_groups) == pytest.approx((20 * mean.mean, 20 * mean.u, 2, 3))


def test_a_shift_of_a_whole_day_drops_out_when_native_was_measured_on_the_same_day():
    days, native = [1, 1, 2, 2, 3, 3], np.array([0.5, 0.5, 0.6, 0.6, 0.4, 0.4])
    shift = np.array([0, 0, 1.5, 1.5, -2, -2])
    before = recovery(FOUND, 5, native, groups=days, paired=True)
    after = recovery(np.array(FOUND) + shift, 5, native + shift, groups=days, paired=True)
    assert (after.percent, after.u, after.df) == pytest.approx((before.percent, before.u, before.df))


def test_amounts_may_differ_from_result_to_result():
    added = np.array([5.0, 5.1, 4.9, 5.0, 5.2, 4.8])
    r = recovery(FOUND, added)
    assert r.single == pytest.approx(100 * np.array(FOUND) / added)
    assert r.percent == pytest.approx(np.mean(r.single))


def test_a_spike_below_the_native_content_is_told():
    assert recovery([9.0, 9.2, 9.1], 2, 7.0).notes == (SPIKE_TOO_SMALL,)
    assert recovery([9.0, 9.2, 9.1], 8, 1.0).notes == ()


@pytest.mark.parametrize(
    ("arguments", "options", "message"),
    [
        (([5.0], 5), {}, "1 found result found, at least 2 needed"),
        (([5.0, 5.1], 0), {}, "above 0"),
        (([5.0, 5.1], [5, -5]), {}, "above 0"),
        (([5.0, 5.1], [5, 5, 5]), {}, "3 added amounts"),
        (([5.0, 5.1], 5, [0.3]), {}, "1 native result found, at least 2 needed"),
        (([5.0, 5.1], 5, [0.3, 0.2, 0.1]), {"paired": True}, "3 found"),
        (([5.0, 5.1], 5), {"paired": True}, "none found"),
        (([5.0, float("nan")], 5), {}, "without a number"),
        (([5.0, 5.1], 5), {"groups": ["a", "a"]}, "1 group found, at least 2 needed"),
        (([5.0, 5.1], 5), {"groups": ["a", None]}, "label is missing"),
    ],
)
def test_recovery_refuses_with_the_count_found_and_needed(arguments, options, message):
    with pytest.raises(ValueError, match=message):
        recovery(*arguments, **options)


@given(results, st.floats(-100, 100), st.floats(0.01, 5))
def test_bias_moves_with_the_reference_and_keeps_its_uncertainty(values, shift, u_reference):
    before = bias_test(values, 3.0, u_reference=u_reference)
    after = bias_test(values, 3.0 + shift, u_reference=u_reference)
    assert after.bias == pytest.approx(before.bias - shift, abs=1e-9)
    assert (after.u, after.df) == pytest.approx((before.u, before.df))
    assert before.u**2 == pytest.approx(np.var(values, ddof=1) / len(values) + u_reference**2)


def test_bias_without_reference_uncertainty_is_the_one_sample_t_test():
    found = bias_test(FOUND, 5.0)
    assert found.t == pytest.approx((np.mean(FOUND) - 5) / (np.std(FOUND, ddof=1) / math.sqrt(6)))
    assert found.df == pytest.approx(5) and found.low < found.bias < found.high


def test_degrees_of_freedom_of_the_reference_lower_the_total():
    exact = bias_test(FOUND, 5.0, u_reference=0.1)
    assert bias_test(FOUND, 5.0, u_reference=0.1, df_reference=4).df < exact.df


def test_results_without_any_scatter_have_no_t_and_say_so():
    found = bias_test([5.0, 5.0, 5.0], 4.9)
    assert found.t is None and found.p_value is None and "no scatter" in found.reason
    assert found.low == found.high == pytest.approx(0.1)


def test_the_part_of_the_added_amount_belongs_to_the_mean_that_is_given():
    """u_added = R·u/added with R the mean of day means, however unequal the days are."""
    found = recovery([4.6, 4.9, 4.4, 4.8, 4.7, 4.1], 5, u_added=0.1, groups=[1, 1, 1, 1, 1, 2])
    assert found.percent == pytest.approx(100 * (4.68 + 4.1) / 2 / 5, rel=1e-12)
    assert found.u_added == pytest.approx(found.percent * 0.1 / 5, rel=1e-12)


def test_the_part_of_the_native_content_follows_unequal_days_and_amounts():
    """∂R/∂native is the mean of day means of 100/added."""
    added, days = [5, 5, 5, 10], [1, 1, 1, 2]
    found = recovery([5.6, 5.9, 5.4, 10.8], added, [0.9, 1.1], groups=days)
    assert found.u_native == pytest.approx((20 + 10) / 2 * 0.1, rel=1e-12)
