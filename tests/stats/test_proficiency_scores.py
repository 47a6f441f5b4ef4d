"""Scores, their signals, and assigned values by consensus."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.stats import proficiency, robust

INPUTS = {"x": 12.0, "assigned": 10.0}


def test_the_constructed_example_gives_every_score_of_the_definitions():
    """x 12.0, x_pt 10.0, σ_pt 0.8, s* 1.0 of 16 laboratories, u(x) 0.6: a constructed set, not a published one."""
    u = 1.25 * 1.0 / math.sqrt(16)
    assert u == 0.3125
    assert proficiency.z(**INPUTS, sigma_pt=0.8) == 2.5
    assert proficiency.z_prime(**INPUTS, sigma_pt=0.8, u_assigned=u) == pytest.approx(2.32864, abs=5e-6)
    assert proficiency.zeta(**INPUTS, u_x=0.6, u_assigned=u) == pytest.approx(2.95638, abs=5e-6)
    assert proficiency.e_n(**INPUTS, U_x=1.2, U_assigned=2 * u) == pytest.approx(1.47819, abs=5e-6)
    assert proficiency.difference(**INPUTS) == 2
    assert proficiency.percent_difference(**INPUTS) == pytest.approx(20)


def test_two_is_acceptable_and_three_is_an_action_signal_in_spite_of_doubles():
    """10 + 3 · 0.8 = 12.4 is 2.9999999999999996 or 3.0000000000000004 standard deviations away."""
    x = np.array([10 + 2 * 0.8, 10 - 2 * 0.8, 11.61, 10 + 3 * 0.8, 10 - 3 * 0.8, 12.39, np.nan])
    assert proficiency.signals(proficiency.z(x, 10.0, 0.8), kind="z").tolist() == [0, 0, 1, 2, 2, 1, -1]
    assert proficiency.signals([1.0, -1.0, 1.000001, -2.0], kind="e_n").tolist() == [0, 0, 2, 2]


def test_scores_are_not_rounded_before_they_are_classified():
    assert proficiency.signals([2.004, 2.996, 1.996], kind="z").tolist() == [1, 1, 0]


def test_zeta_is_twice_e_n_when_both_coverage_factors_are_two():
    zeta = proficiency.zeta(12.3, 10.0, 0.4, 0.2)
    assert zeta == pytest.approx(2 * proficiency.e_n(12.3, 10.0, 0.8, 0.4), rel=1e-15)


def test_a_laboratory_without_uncertainty_has_no_zeta_and_the_others_keep_theirs():
    found = proficiency.zeta([11.0, 12.0], 10.0, [np.nan, 1.0], 0.0)
    assert np.isnan(found[0]) and found[1] == 2


@pytest.mark.parametrize(
    "call",
    [
        lambda: proficiency.z([1.0], 1.0, 0.0),
        lambda: proficiency.z([np.inf], 1.0, 1.0),
        lambda: proficiency.z([1.0], np.nan, 1.0),
        lambda: proficiency.z([1.0], 1.0, np.nan),
        lambda: proficiency.zeta([1.0], 1.0, [0.0], 0.0),
        lambda: proficiency.zeta([1.0], 1.0, [-0.1], 0.5),
        lambda: proficiency.percent_difference([1.0], 0.0),
        lambda: proficiency.signals([1.0], kind="x"),
    ],
)
def test_a_score_without_a_scale_is_refused(call):
    with pytest.raises(ValueError):
        call()


@given(st.floats(-50, 50), st.floats(0.1, 10), st.sampled_from([0.5, 4.0]), st.sampled_from([-8.0, 32.0]))
def test_a_z_score_has_no_unit(x, sigma, scale, shift):
    assert proficiency.z(scale * x + shift, shift, scale * sigma) == pytest.approx(
        float(proficiency.z(x, 0.0, sigma)), abs=1e-9
    )


def test_the_consensus_by_algorithm_a_has_one_and_a_quarter_s_over_root_p():
    x = np.random.default_rng(20310303).normal(10, 1, 30)
    found, star = proficiency.assigned_value(x, by="algorithm A"), robust.algorithm_a(x)
    assert (found.value, found.sd) == (star.mean, star.sd)
    assert found.u == pytest.approx(1.25 * star.sd / math.sqrt(30), rel=1e-15)


@pytest.mark.parametrize(("by", "fewest"), [("algorithm A", 5), ("Q method", 5), ("median, MADe", 12)])
def test_a_consensus_of_too_few_laboratories_is_refused(by, fewest):
    x = np.random.default_rng(20310303).normal(10, 1, fewest)
    proficiency.assigned_value(x, by=by)
    with pytest.raises(ValueError, match=f"at least {fewest}"):
        proficiency.assigned_value(x[1:], by=by)


def test_censored_results_rank_lowest_for_a_median_and_are_left_out_elsewhere_only_when_few():
    x = list(range(1, 21))
    assert proficiency.assigned_value(x, by="median, MADe", censored_low=4).value == 8.5
    assert proficiency.assigned_value(x, by="algorithm A", censored_low=1).value == 10.5
    with pytest.raises(ValueError, match="less than 5 %"):
        proficiency.assigned_value(x, by="algorithm A", censored_low=2)
    with pytest.raises(ValueError, match="at most 40 %"):
        proficiency.assigned_value(x, by="median, MADe", censored_low=14)


def test_a_consensus_of_identical_results_is_refused_with_the_reason():
    with pytest.raises(ValueError, match="identical"):
        proficiency.assigned_value([4.0] * 20, by="algorithm A")


def test_the_mean_of_expert_laboratories_has_its_standard_error():
    found = proficiency.assigned_value([9.0, 10.0, 11.0], by="mean")
    assert (found.value, found.u) == (10.0, pytest.approx(1 / math.sqrt(3)))


def test_two_populations_give_two_modes_that_nearly_every_resample_has():
    rng = np.random.default_rng(20310303)
    x = np.concatenate((rng.normal(10, 0.5, 20), rng.normal(15, 0.5, 20)))
    first, second = proficiency.consensus_modes(x, 1.0, seed=1).modes[:2]
    assert min(first.support, second.support) > 0.99
    assert first.weight + second.weight == pytest.approx(1)
    assert sorted(round(m.location) for m in (first, second)) == [10, 15]


def test_the_same_seed_gives_the_same_modes_in_any_order_of_laboratories():
    x = np.random.default_rng(20310303).normal(10, 1, 60)
    assert proficiency.consensus_modes(x, 1.0, seed=7).modes == proficiency.consensus_modes(x[::-1], 1.0, seed=7).modes


def test_the_bootstrap_gives_the_standard_error_that_theory_has_for_the_mode():
    """As an M-estimator with ψ(u) = u·exp(−u²/2h²), h = 0.75: n·variance = 2.204 on normal results of SD 1.

    ∫ψ²dF = (1 + 2/h²)^−1.5 and ∫ψ′dF = (1 + 1/h²)^−1.5.
    """
    n, h = 4000, 0.75
    expected = math.sqrt((1 + 2 / h**2) ** -1.5 / (1 + 1 / h**2) ** -3 / n)
    x = np.random.default_rng(20310303).normal(10, 1, n)
    assert proficiency.consensus_modes(x, 1.0, seed=7).modes[0].se_location == pytest.approx(expected, rel=0.1)


def test_a_blunder_thousands_of_bandwidths_away_is_told_instead_of_binned():
    with pytest.raises(ValueError, match="bandwidths"):
        proficiency.consensus_modes([10.0, 10.1, 9.9, 10_000.0], 1.0, seed=1)
