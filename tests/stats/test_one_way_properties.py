"""One-way precision and grouped means: the worked example and what must not change the result."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from validate.stats.descriptive import summary
from validate.stats.precision import (
    FACTOR_EXACT,
    against_claim,
    intermediate_limits,
    one_way,
    repeatability_limit,
    repeatability_limits,
)

WORKED = [10.1, 10.3, 9.6, 9.9, 10.8, 10.6, 10.0, 9.7, 10.4, 10.9]
DAYS = [1, 1, 2, 2, 3, 3, 4, 4, 5, 5]


@st.composite
def grouped(draw):
    """Results in 2 to 6 groups of 1 to 4, at least one group with a second result."""
    sizes = draw(st.lists(st.integers(1, 4), min_size=2, max_size=6).filter(lambda s: max(s) > 1))
    n = sum(sizes)
    values = draw(st.lists(st.integers(-1000, 1000), min_size=n, max_size=n).map(lambda v: [x / 100 for x in v]))
    assume(np.ptp(values) > 0)
    return values, [f"g{i}" for i, size in enumerate(sizes) for _ in range(size)]


def test_worked_example_of_five_days_with_two_results():
    found = one_way(WORKED, DAYS)
    assert (round(found.ms_between, 4), round(found.ms_within, 4)) == (0.3865, 0.0510)
    assert [round(s, 5) for s in (found.s_r, found.s_between, found.s_intermediate)] == [0.22583, 0.40957, 0.46771]
    for level, low, high in ((0.95, 0.30642, 1.27556), (0.90, 0.32573, 1.05699)):
        limits = intermediate_limits(found, level)
        assert (round(limits.low, 5), round(limits.high, 5)) == (low, high)
    limits = intermediate_limits(found, 0.95, method="satterthwaite")
    assert (round(found.df_intermediate, 4), round(limits.low, 5), round(limits.high, 5)) == (5.0549, 0.29252, 1.13916)


def test_guarded_limits_take_the_smaller_lower_limit():
    found = one_way(WORKED, DAYS)
    guarded = intermediate_limits(found, 0.95, method="guarded")
    assert (round(guarded.low, 5), round(guarded.high, 5)) == (0.29252, 1.27556)


@given(grouped(), st.integers(-(10**6), 10**6), st.sampled_from([0.001, 0.5, 3.0, 1e6]))
def test_shift_moves_the_mean_and_scale_multiplies_every_spread(data, shift, scale):
    values, groups = data
    before = one_way(values, groups)
    after = one_way(scale * (np.array(values) + shift), groups)
    tolerance = 1e-9 * scale * (1 + abs(shift))
    assert after.mean == pytest.approx(scale * (before.mean + shift), abs=tolerance, rel=1e-12)
    for name in ("s_r", "s_pooled"):
        assert getattr(after, name) == pytest.approx(scale * getattr(before, name), abs=tolerance, rel=1e-9)
    assert after.variance_between_raw == pytest.approx(
        scale**2 * before.variance_between_raw, abs=scale * tolerance, rel=1e-6
    )


@given(grouped(), st.randoms(use_true_random=False))
def test_order_of_rows_and_names_of_groups_do_not_matter(data, random):
    values, groups = data
    rows = list(zip(values, groups, strict=True))
    random.shuffle(rows)
    before = one_way(values, groups)
    after = one_way([v for v, _ in rows], [(g,) for _, g in rows])
    for name in ("mean", "s_r", "variance_between_raw", "n0", "n_harmonic", "s_pooled"):
        assert getattr(after, name) == pytest.approx(getattr(before, name), abs=1e-11, rel=1e-11)
    assert (after.s_intermediate_limits.low, after.s_intermediate_limits.high) == pytest.approx(
        (before.s_intermediate_limits.low, before.s_intermediate_limits.high), abs=1e-6, rel=1e-9
    )


@given(grouped())
def test_sums_of_squares_add_up_and_the_balanced_estimate_lies_within_its_limits(data):
    values, groups = data
    found = one_way(values, groups)
    whole = float(np.sum((np.array(values) - np.mean(values)) ** 2))
    assert found.ss_between + found.ss_within == pytest.approx(whole, rel=1e-12)
    if len(set(found.group_sizes)) == 1:
        assert found.n0 == pytest.approx(found.n_harmonic) == pytest.approx(found.group_sizes[0])
        limits = found.s_intermediate_limits
        assert limits.low <= found.s_intermediate * (1 + 1e-12) and found.s_intermediate <= limits.high * (1 + 1e-12)


@given(st.integers(2, 6), st.integers(2, 4), st.data())
def test_terms_add_up_to_the_estimate_unless_it_was_truncated(p, n, data):
    values = data.draw(st.lists(st.integers(-1000, 1000), min_size=p * n, max_size=p * n))
    found = one_way(values, [i // n for i in range(p * n)])
    total = sum(term.value for term in found.terms)
    assert max(total, found.floor * found.terms[1].value) == pytest.approx(found.s_intermediate**2, rel=1e-9, abs=1e-9)


def test_a_negative_between_group_variance_is_told_and_counted_as_zero():
    found = one_way([9, 11, 9.1, 10.9, 9.2, 10.8, 9, 11, 9, 11.1], DAYS)
    assert found.variance_between_raw < 0 == found.s_between
    assert found.s_intermediate == found.s_r == pytest.approx(found.ms_within**0.5)
    assert any("negative" in note for note in found.notes)


def test_fewer_than_five_groups_are_marked_few():
    assert one_way(WORKED[:8], DAYS[:8]).few_groups and not one_way(WORKED, DAYS).few_groups


def test_results_that_all_agree_give_zero_without_a_division_by_zero():
    found = one_way([5.0] * 6, [1, 1, 2, 2, 3, 3])
    assert (found.s_r, found.s_intermediate, found.f, found.s_intermediate_limits.high) == (0, 0, None, 0)


def test_the_one_sided_limit_of_a_spread_is_the_two_sided_one_at_ninety_per_cent():
    found = one_way(WORKED, DAYS)
    assert repeatability_limits(found, 0.90).high == pytest.approx(found.s_r * (5 / 1.145476) ** 0.5, rel=1e-6)


def test_repeatability_limit_is_rounded_unless_the_exact_factor_is_asked_for():
    assert repeatability_limit(0.1) == pytest.approx(0.28)
    assert repeatability_limit(1, factor=FACTOR_EXACT) == pytest.approx(2.7718, abs=5e-5)


def test_a_spread_equal_to_the_claim_sits_inside_its_limits():
    found = against_claim(2.0, 10, 2.0)
    assert found.low < found.ratio == 1 < found.high and 0.4 < found.p_value < 0.5


@given(grouped())
def test_mean_of_groups_counts_every_group_once(data):
    values, groups = data
    found = summary(values, groups)
    means = [np.mean([v for v, g in zip(values, groups, strict=True) if g == name]) for name in dict.fromkeys(groups)]
    assert found.mean == pytest.approx(float(np.mean(means)), abs=1e-12)
    assert found.u == pytest.approx(float(np.std(means, ddof=1)) / len(means) ** 0.5, abs=1e-12)
    assert found.df == len(means) - 1 == found.n_groups - 1


@given(grouped())
def test_groups_of_one_result_each_change_nothing(data):
    values, _ = data
    alone, labelled = summary(values), summary(values, range(len(values)))
    assert (labelled.mean, labelled.u, labelled.low, labelled.df) == pytest.approx(
        (alone.mean, alone.u, alone.low, alone.df), abs=1e-12
    )


def test_a_mean_that_is_not_above_zero_has_no_rsd_and_says_so():
    found = summary([-1.0, 0.0, 1.0])
    assert found.rsd_percent is None and "not above zero" in found.reason


def test_unequal_groups_use_the_effective_number_of_results():
    """n0 = (N − Σn_i²/N)/(p − 1): (14 − 52/14)/4 for sizes 2, 2, 2, 2, 6, neither N/p nor the harmonic mean."""
    sizes = [2, 2, 2, 2, 6]
    groups = np.repeat(range(5), sizes)
    values = np.random.default_rng(3).normal(10, 1, 14) + groups
    found = one_way(values, groups)
    means = np.array([values[groups == g].mean() for g in range(5)])
    ms_between = np.dot(sizes, (means - values.mean()) ** 2) / 4
    ms_within = sum(((values[groups == g] - means[g]) ** 2).sum() for g in range(5)) / 9
    assert found.n0 == pytest.approx((14 - 52 / 14) / 4, rel=1e-14)
    assert found.variance_between_raw == pytest.approx((ms_between - ms_within) / ((14 - 52 / 14) / 4), rel=1e-12)
