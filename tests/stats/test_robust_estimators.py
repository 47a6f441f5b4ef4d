"""Robust estimators: equivariance, order, refusals, many rows at once, the iteration written out."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from validate.stats import robust
from validate.stats._differences import Differences
from validate.stats.robust_winsorised import EXACT

SETS = st.lists(st.integers(-400, 400).map(lambda k: k / 16), min_size=5, max_size=30)
BOTH = (robust.algorithm_a, robust.q_method, robust.median_mad, robust.scaled_iqr)


def written_out(x: list[float]) -> tuple[float, float]:
    """Algorithm A step by step, until nothing changes."""
    x = np.asarray(x)
    mean, sd = np.median(x), EXACT[0] * np.median(np.abs(x - np.median(x)))
    sd = sd or np.std(x, ddof=1)
    for _ in range(100_000):
        drawn = np.clip(x, mean - 1.5 * sd, mean + 1.5 * sd)
        before = mean, sd
        mean = drawn.mean()
        sd = EXACT[1] * np.sqrt(np.sum((drawn - mean) ** 2) / (len(x) - 1))
        if abs(mean - before[0]) + abs(sd - before[1]) <= 1e-14 * (abs(mean) + sd):
            break
    return mean, sd


@settings(max_examples=60, deadline=None)
@given(SETS)
def test_algorithm_a_is_where_the_written_iteration_ends(x):
    found = robust.algorithm_a(x) if len(set(x)) > 1 else None
    assume(found is not None and not found.degenerate)
    mean, sd = written_out(x)
    assert found.mean == pytest.approx(mean, abs=1e-7 * sd)
    assert found.sd == pytest.approx(sd, rel=1e-7)


@pytest.mark.parametrize("estimator", BOTH)
@settings(max_examples=30, deadline=None)
@given(SETS, st.sampled_from([0.25, 2.0, 8.0]), st.sampled_from([-64.0, 0.0, 1024.0]))
def test_location_and_spread_follow_shift_and_scale(estimator, x, scale, shift):
    found, moved = estimator(x), estimator([scale * v + shift for v in x])
    assert moved.mean == pytest.approx(scale * found.mean + shift, abs=1e-8 * scale * (1 + np.ptp(x)))
    assert moved.degenerate == found.degenerate
    if found.sd is not None:
        assert moved.sd == pytest.approx(scale * found.sd, rel=1e-8)


@pytest.mark.parametrize("estimator", BOTH)
def test_the_order_of_laboratories_does_not_matter(estimator):
    x = np.random.default_rng(20310303).standard_t(3, 40)
    assert estimator(x) == estimator(x[::-1])


@pytest.mark.parametrize("estimator", BOTH)
def test_many_measurands_at_once_give_what_each_gives_alone(estimator):
    rng = np.random.default_rng(20310303)
    table = rng.standard_t(2, (40, 23)) + 10
    table[rng.random(table.shape) < 0.2] = np.nan
    together = estimator(table)
    for i, row in enumerate(table):
        alone = estimator(row[~np.isnan(row)])
        assert together.n[i] == alone.n
        assert (together.mean[i], together.sd[i]) == pytest.approx((alone.mean, alone.sd), rel=1e-13)


def test_a_row_with_too_few_results_is_told_and_leaves_the_others_alone():
    found = robust.algorithm_a(np.array([[1.0, np.nan, np.nan, np.nan], [1.0, 2.0, 3.0, 5.0]]))
    assert found.reason == ("1 result found, at least 3 needed", "")
    assert np.isnan(found.mean[0]) and found.mean[1] > 2


@pytest.mark.parametrize("bad", [[1.0, 2.0, np.inf], [1.0, np.nan, 2.0], [1.0, 2.0], [[1.0, np.inf, 2.0]], [[[1.0]]]])
def test_infinite_missing_or_too_few_results_are_refused(bad):
    with pytest.raises(ValueError):
        robust.algorithm_a(np.array(bad))


def test_two_thirds_identical_results_give_a_median_and_no_spread():
    found = robust.algorithm_a([5.0] * 20 + [5.1] * 4 + [9.0])
    assert (found.degenerate, found.mean, found.sd) == (True, 5.0, None)
    assert "identical" in found.reason


def test_half_identical_results_still_have_a_spread_by_algorithm_a():
    """The start is the ordinary SD where the median deviation is 0."""
    found = robust.algorithm_a([5.0] * 12 + [5.1, 5.2, 5.3, 5.4, 4.9, 4.8, 4.7, 4.6, 5.6, 4.4])
    assert not found.degenerate and 0.1 < found.sd < 0.4


def test_results_that_differ_by_the_rounding_of_doubles_alone_count_as_identical():
    """Neighbouring doubles have no spread; taken for one they gave s* = 5e-17, or rounds without an end."""
    value = 0.2827674467943336
    noisy = [np.nextafter(value, 0)] * 40 + [value] * 30 + [np.nextafter(value, 1)] * 40 + [0.5, 0.9]
    found = robust.algorithm_a(noisy)
    assert found.degenerate and found.sd is None and found.mean == pytest.approx(value, rel=1e-15)
    rows = robust.algorithm_a([noisy, [float(i) for i in range(len(noisy))]])
    assert rows.degenerate.tolist() == [True, False]


def test_all_results_equal_are_degenerate_for_every_estimator():
    for estimator in BOTH:
        found = estimator([3.3] * 12)
        assert found.degenerate and found.sd is None and found.mean == 3.3
    assert robust.qn([3.3] * 12) == 0


@settings(max_examples=60, deadline=None)
@given(SETS, st.data())
def test_the_kth_pairwise_difference_is_the_one_of_the_sorted_list(x, data):
    ordered = np.sort(np.array(x))
    everything = np.sort(np.abs(np.subtract.outer(ordered, ordered))[np.triu_indices(len(x), 1)])
    k = data.draw(st.integers(1, len(everything)))
    assert Differences(ordered).kth(k) == everything[k - 1]


@pytest.mark.parametrize("digits", [None, 2, 1, 0])
def test_the_search_among_millions_of_differences_is_exact_with_and_without_ties(digits):
    x = np.random.default_rng(20310303).standard_normal(1500)
    ordered = np.sort(x if digits is None else np.round(x, digits))
    everything = np.sort(np.abs(np.subtract.outer(ordered, ordered))[np.triu_indices(1500, 1)])
    for k in (1, 1000, 280_000, 562_000, len(everything)):
        assert Differences(ordered).kth(k) == pytest.approx(everything[k - 1], abs=1e-11)


def test_qn_of_a_hundred_thousand_results_is_computed():
    """The general library's qn_scale crashes from 46,341 on."""
    x = np.random.default_rng(20310303).standard_normal(100_000)
    assert robust.qn(x) == pytest.approx(1, abs=3 * 0.78 / 100_000**0.5)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(-40, 40).map(lambda k: k / 8), min_size=4, max_size=12, unique=True))
def test_qn_is_the_scaled_order_statistic_of_its_definition(x):
    h = len(x) // 2 + 1
    pairs = sorted(abs(a - b) for i, a in enumerate(x) for b in x[i + 1 :])
    expected = pairs[h * (h - 1) // 2 - 1] / (2**0.5 * stats.norm.ppf(5 / 8))
    assert robust.qn(x) == pytest.approx(expected, rel=1e-14)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, 40).map(lambda k: k / 10), min_size=4, max_size=15))
def test_the_q_method_of_single_results_is_that_of_laboratories_with_one_result(x):
    """Decimals: 3.4 − 3.3 is not 0.1 in doubles, and is still the same difference."""
    alone, grouped = robust.q_method(x), robust.q_method(x, groups=list(range(len(x))))
    assert alone.degenerate == grouped.degenerate
    if not alone.degenerate:
        assert alone.sd == pytest.approx(grouped.sd, rel=1e-9)
        assert alone.mean == pytest.approx(grouped.mean, rel=1e-9, abs=1e-9)


def test_the_q_method_counts_every_pair_of_laboratories_once():
    """A laboratory that repeats its result a hundred times is still one laboratory."""
    x, labs = [1.0, 2.0, 3.5, 5.0, 7.0], ["a", "b", "c", "d", "e"]
    often = robust.q_method([*x, *[7.0] * 99], groups=[*labs, *["e"] * 99])
    assert often.sd == pytest.approx(robust.q_method(x).sd, rel=1e-12)


def test_hampels_mean_ignores_what_lies_beyond_four_and_a_half_spreads():
    near = [9.8, 9.9, 10.0, 10.1, 10.3]
    assert robust.hampel_mean([*near, 99.0], 0.2) == pytest.approx(robust.hampel_mean(near, 0.2), rel=1e-12)


@settings(max_examples=60, deadline=None)
@given(SETS, st.sampled_from([0.5, 1.0, 4.0]))
def test_hampels_mean_solves_its_equation(x, s):
    u = (np.array(x) - robust.hampel_mean(x, s)) / s
    psi = np.sign(u) * np.clip(np.minimum(np.abs(u), 4.5 - np.abs(u)), 0, 1.5)
    assert abs(psi.sum()) < 1e-8 * len(x)


@pytest.mark.parametrize(("df", "eta", "xi"), [(1, 1.645, 1.097), (2, 1.517, 1.054)])
def test_algorithm_s_is_where_the_iteration_with_the_printed_factors_ends(df, eta, xi):
    """Factors of ISO 5725-5, from memory."""
    w = np.array([0.3, 0.4, 0.35, 0.28, 1.9])
    pooled = np.median(w)
    for _ in range(500):
        pooled = xi * np.sqrt(np.mean(np.minimum(w, eta * pooled) ** 2))
    assert robust.algorithm_s(w, df) == pytest.approx(pooled, rel=2e-3)


@pytest.mark.parametrize("df", [1, 2, 5])
def test_algorithm_s_of_many_normal_cells_is_their_standard_deviation(df):
    rng = np.random.default_rng(20310303)
    sds = np.sqrt(rng.chisquare(df, 40_000) / df)
    assert robust.algorithm_s(sds, df) == pytest.approx(1, abs=3 * 1.2 / (2 * df * 40_000) ** 0.5)


def test_algorithm_s_refuses_cells_of_which_half_have_no_spread():
    with pytest.raises(ValueError, match="half of the standard deviations are 0"):
        robust.algorithm_s([0.0, 0.0, 0.0, 1.0], 1)
