"""Sample sizes and chances to pass, against the values of the design and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from validate.stats.design import days_for_intermediate, pass_probability, replicates_for_recovery, replicates_for_rsd


@pytest.mark.parametrize(("distance", "sizes"), [(0.5, (27, 36)), (1, (8, 11)), (1.5, (5, 6)), (2, (4, 4))])
def test_results_for_a_recovery_by_the_interval_rule(distance, sizes):
    assert tuple(replicates_for_recovery(distance, 1, power=power).n for power in (0.8, 0.9)) == sizes


@pytest.mark.parametrize(
    ("ratio", "sizes"), [(1.25, (67, 90)), (1.5, (23, 29)), (2, (10, 12)), (2.5, (7, 8)), (3, (5, 6)), (4, (4, 5))]
)
def test_results_for_an_rsd_by_the_interval_rule(ratio, sizes):
    assert tuple(replicates_for_rsd(ratio, power=power).n for power in (0.8, 0.9)) == sizes
    assert replicates_for_rsd(ratio, groups=5).n == sizes[0] + 4


@pytest.mark.parametrize(("ratio", "days"), [(2.5, 6), (2.0, 8), (1.5, 17)])
def test_days_for_intermediate_precision_with_two_results_a_day(ratio, days):
    found = days_for_intermediate(ratio)
    assert found.n == days and found.power >= 0.8


@pytest.mark.parametrize(("replicates", "power"), [(2, 0.84), (3, 0.89), (4, 0.91)])
def test_replicates_hardly_help_where_days_are_eight(replicates, power):
    shares, dfs = (1 + 1 / replicates, 1 - 1 / replicates), (7, 8 * (replicates - 1))
    found = pass_probability(0.5, kind="scaled_chi_sum", high=1, shares=shares, dfs=dfs, by="interval")
    assert found == pytest.approx(power, abs=0.005)


def test_power_of_a_recovery_is_the_noncentral_t_probability():
    from scipy.stats import nct

    t = special.stdtrit(7, 0.95)
    assert replicates_for_recovery(1, 1).power == pytest.approx(nct.sf(t, 7, math.sqrt(8)), abs=1e-9)


@pytest.mark.parametrize(("truth", "point", "bound"), [(20, 0.584, 0.050), (10, 0.999, 0.531)])
def test_six_results_against_a_limit_of_twenty_per_cent(truth, point, bound):
    found = [pass_probability(truth, kind="scaled_chi", high=20, df=5, by=by) for by in ("estimate", "interval")]
    assert found == pytest.approx([point, bound], abs=0.0006)


def test_three_levels_at_three_quarters_of_the_limit():
    assert pass_probability(15, kind="scaled_chi", high=20, df=5) ** 3 == pytest.approx(0.70, abs=0.005)


@given(st.floats(0.2, 3), st.floats(0.01, 0.99), st.integers(1, 30), st.integers(1, 30))
def test_two_terms_with_the_law_of_one_give_the_law_of_one(ratio, share, df_a, df_b):
    """Shares in the proportion of their df add up to one scaled chi-square."""
    shares = (df_a / (df_a + df_b), df_b / (df_a + df_b))
    one = pass_probability(1, kind="scaled_chi", high=ratio, df=df_a + df_b)
    assert pass_probability(1, kind="scaled_chi_sum", high=ratio, shares=shares, dfs=(df_a, df_b)) == pytest.approx(
        one, abs=1e-10
    )


@pytest.mark.parametrize("ratio", [0.6, 1.0, 1.4])
def test_three_terms_with_the_law_of_one_give_the_law_of_one(ratio):
    one = pass_probability(1, kind="scaled_chi", high=ratio, df=10)
    found = pass_probability(1, kind="scaled_chi_sum", high=ratio, shares=(0.2, 0.3, 0.5), dfs=(2, 3, 5))
    assert found == pytest.approx(one, abs=1e-7)


@pytest.mark.parametrize("dfs", [(1, 1, 1), (1, 1, 1, 1), (10, 20, 30), (100_000, 200_000, 300_000)])
@pytest.mark.parametrize("ratio", [0.3, 0.99, 1.0, 1.01, 1.5, 3.0])
def test_three_and_more_terms_keep_their_digits_from_few_to_many_degrees_of_freedom(dfs, ratio):
    """A crossing of 2 × 2 has terms of 1 df, one of 200,000 rows a term of nearly as many."""
    one = pass_probability(1, kind="scaled_chi", high=ratio, df=sum(dfs))
    shares = [df / sum(dfs) for df in dfs]
    found = pass_probability(1, kind="scaled_chi_sum", high=ratio, shares=shares, dfs=dfs)
    assert found == pytest.approx(one, abs=1e-8)


def test_floors_give_the_chance_that_the_truncated_estimate_passes():
    """Seeded simulation of 5 days × 2 with nothing between days; within 4 standard errors."""
    rng, sets = np.random.default_rng(5), 400_000
    within, means = rng.chisquare(5, sets) / 5, rng.chisquare(4, sets) / 4 / 2
    for bound in (1.0, 1 / 0.75):
        passed = np.mean(np.maximum(within, means + within / 2) <= bound**2)
        told = pass_probability(1, kind="scaled_chi_sum", high=bound, shares=(0.5, 0.5), dfs=(4, 5), floors=(2,))
        assert told == pytest.approx(passed, abs=4 * math.sqrt(passed * (1 - passed) / sets))


@pytest.mark.parametrize(("between", "inner"), [(0.0, 0.0), (0.0, 0.5), (1.0, 0.0), (1.0, 1.0)])
def test_floors_of_nested_data_let_no_component_count_below_zero(between, inner):
    """Seeded simulation of 6 outer × 2 inner × 2 results, scatter within 1; within 4 standard errors."""
    rng, sets, total = np.random.default_rng(7), 100_000, between + inner + 1
    within = rng.chisquare(12, sets) / 12
    cells = (1 + 2 * inner) * rng.chisquare(6, sets) / 6
    groups = (1 + 2 * inner + 4 * between) * rng.chisquare(5, sets) / 5
    squares = within + np.maximum(0, (cells - within) / 2) + np.maximum(0, (groups - cells) / 4)
    shares = (between + inner / 2 + 1 / 4, inner / 2 + 1 / 4, 1 / 2)
    for bound in (0.8, 1.0, 1 / 0.75):
        passed = np.mean(squares / total <= bound**2)
        told = pass_probability(1, kind="scaled_chi_sum", high=bound, shares=shares, dfs=(5, 6, 12), floors=(2, 2))
        assert told == pytest.approx(passed, abs=4 * math.sqrt(passed * (1 - passed) / sets))


@given(st.floats(-3, 3), st.floats(0.1, 4), st.integers(2, 40))
def test_an_interval_inside_a_range_is_rarer_than_its_estimate_inside(truth, se, df):
    point, interval = (
        pass_probability(truth, kind="mean", low=-2, high=2, se=se, df=df, by=by) for by in ("estimate", "interval")
    )
    assert 0 <= interval <= point + 1e-12 <= 1 + 1e-9


def test_a_mean_at_a_limit_passes_half_the_time_by_estimate_and_five_per_cent_by_interval():
    point = pass_probability(110, kind="mean", low=70, high=110, se=3, df=9)
    interval = pass_probability(110, kind="mean", low=70, high=110, se=3, df=9, by="interval")
    assert (point, interval) == pytest.approx((0.5, 0.05), abs=1e-6)


@pytest.mark.parametrize("df", [1, 2, 7, 300, 20_000])
def test_quadrature_keeps_its_digits_from_one_to_many_degrees_of_freedom(df):
    one = pass_probability(1, kind="scaled_chi", high=1.01, df=2 * df)
    found = pass_probability(1, kind="scaled_chi_sum", high=1.01, shares=(0.5, 0.5), dfs=(df, df))
    assert found == pytest.approx(one, abs=1e-9)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: pass_probability(1, kind="scaled_chi", df=5), "one bound"),
        (lambda: pass_probability(0, kind="scaled_chi", high=1, df=5), "above 0"),
        (lambda: pass_probability(1, kind="scaled_chi", high=1), "df is missing"),
        (lambda: pass_probability(1, kind="mean", high=1), "se is missing"),
        (lambda: pass_probability(1, kind="other", high=1), "unknown kind"),
        (lambda: pass_probability(1, kind="scaled_chi_sum", high=1, shares=(1,), dfs=(1, 2)), "share"),
        (lambda: pass_probability(1, kind="scaled_chi", high=1, df=5, by="both"), "by must be"),
        (lambda: pass_probability(1, kind="scaled_chi", low=0.5, high=1, df=5, by="interval"), "upper bound only"),
        (lambda: pass_probability(1, kind="scaled_chi", high=1, df=5, floors=(2,)), "two or three terms"),
        (lambda: pass_probability(1, kind="scaled_chi_sum", high=1, shares=(1, 1), dfs=(4, 5), floors=(0.5,)), "floor"),
        (lambda: replicates_for_recovery(0, 1), "above 0"),
        (lambda: replicates_for_rsd(1.0), "above 1"),
        (lambda: replicates_for_rsd(1.0001), "too near"),
        (lambda: days_for_intermediate(2, replicates=1), "at least 2 needed"),
        (lambda: replicates_for_rsd(2, power=80), "between 0 and 1"),
    ],
)
def test_a_question_that_has_no_answer_is_refused_with_the_reason(call, message):
    with pytest.raises(ValueError, match=message):
        call()
