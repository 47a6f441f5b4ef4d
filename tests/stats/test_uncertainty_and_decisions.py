"""Uncertainty budgets, the level model, and decisions at a limit with their risk."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.stats.intervals import t_quantile
from validate.stats.uncertainty import (
    LevelModel,
    acceptance_limit,
    decision,
    default_uncertainty,
    expanded,
    guard_band,
    level_model,
    risk_curve,
    top_down,
    top_down_corrected,
    top_down_several,
)

RULES = ("simple", "guard band", "beyond reasonable doubt")
amount = st.floats(0.01, 100)


@given(amount, st.floats(-50, 50), amount, st.integers(2, 30), amount)
def test_the_components_add_up_to_the_square(s_rw, bias, s_bias, n, u_ref):
    found = top_down(s_rw, bias=bias, s_bias=s_bias, n_bias=n, u_reference=u_ref)
    assert found.u**2 == pytest.approx(s_rw**2 + bias**2 + s_bias**2 / n + u_ref**2)
    assert found.u_bias**2 + s_rw**2 == pytest.approx(found.u**2) and 2 * found.u == found.U
    assert sum(part.share for part in found.components) == pytest.approx(1)
    assert found.components[0].name == "within-laboratory reproducibility" and not found.corrected


@given(amount, st.lists(st.tuples(st.floats(-20, 20), st.floats(0, 5)), min_size=2, max_size=9))
def test_several_materials_count_their_scatter_once(s_rw, materials):
    biases, references = (np.array(column) for column in zip(*materials, strict=True))
    found = top_down_several(s_rw, biases=biases, u_references=references)
    assert found.u_bias**2 == pytest.approx(np.mean(biases**2) + np.mean(references**2), abs=1e-12)
    assert found.bias == pytest.approx(np.mean(biases), abs=1e-12)


def test_a_correction_takes_the_bias_away_and_adds_its_uncertainty():
    corrected = top_down_corrected(8.0, recovery=80.0, s_recovery=6.0, n_recovery=9, u_reference=1.0)
    kept = top_down(8.0, bias=-20.0, s_bias=6.0, n_bias=9, u_reference=1.0)
    assert corrected.u < kept.u and corrected.u > 8.0
    assert corrected.u_bias == pytest.approx(100 * math.sqrt(36 / 9 + 1) / 80)
    assert corrected.corrected and corrected.bias == -20


def test_few_degrees_of_freedom_raise_the_coverage_factor():
    found = top_down(8.0, bias=0, s_bias=3.0, n_bias=6, u_reference=1.0, df_rw=7, k=None)
    whole = math.floor(found.df)
    assert found.k == pytest.approx(t_quantile(0.975, whole)) and found.kind == "t" and found.k > 2


@pytest.mark.parametrize(("df", "k"), [(1, 12.706), (3.99, 3.182), (4, 2.776), (10.9, 2.228), (math.inf, 1.960)])
def test_coverage_factors_take_degrees_of_freedom_rounded_down(df, k):
    """t(0.975) of any t table."""
    found = expanded(1.0, df=df)
    assert pytest.approx(k, abs=0.0005) == found.U
    assert ("few" in found.kind) == (df < 4)


@given(st.floats(0.01, 10), st.floats(0.1, 50))
def test_the_level_model_finds_what_made_the_data(absolute, relative):
    truth, levels = LevelModel(absolute, relative), [0.0, 1.0, 10.0, 100.0]
    found = level_model(levels, truth.at(levels))
    assert (found.absolute, found.relative_percent) == pytest.approx((absolute, relative), rel=1e-6)
    assert found.at(truth.turning_level) == pytest.approx(absolute * math.sqrt(2), rel=1e-6)
    assert found.ratios == pytest.approx([1] * 4)


def test_a_part_that_the_data_do_not_show_is_zero():
    assert level_model([1, 10, 100], [0.1, 1.0, 10.0]).absolute == pytest.approx(0, abs=1e-6)
    flat = level_model([1, 10, 100], [0.5, 0.45, 0.4])
    assert flat.relative_percent == 0 and flat.turning_level is None and 0.4 < flat.absolute < 0.5


@given(st.floats(0, 10), st.floats(0.01, 2), st.sampled_from(RULES))
def test_a_result_is_accepted_up_to_the_acceptance_limit(x, U, rule):
    found = decision(x, U, 5.0, rule=rule)
    assert found.acceptance_limit == acceptance_limit(5.0, U, rule=rule)
    assert (found.decision == "accept") == (x <= found.acceptance_limit + 5e-9)
    assert found.risk == pytest.approx(
        found.probability_above if found.decision == "accept" else 1 - found.probability_above
    )
    assert found.doubtful == (abs(x - 5) < U)


@pytest.mark.parametrize(
    ("rule", "worst"), [("guard band", 0.0228), ("simple", 0.5), ("beyond reasonable doubt", 0.9772)]
)
def test_the_worst_risk_of_a_rule_is_that_at_its_acceptance_limit(rule, worst):
    assert decision(3.0, 0.8, 5.0, rule=rule).worst_risk == pytest.approx(worst, abs=0.00005)


def test_a_result_is_rejected_beyond_reasonable_doubt_only_when_all_of_it_lies_above():
    assert decision(5.8, 0.8, 5.0, rule="beyond reasonable doubt").decision == "accept"
    assert decision(5.81, 0.8, 5.0, rule="beyond reasonable doubt").decision == "reject"


def test_the_last_digit_of_a_double_decides_nothing():
    """0.1 + 0.2 is 0.30000000000000004."""
    assert decision(0.1, 0.2, 0.3, rule="guard band").decision == "accept"


def test_few_degrees_of_freedom_make_a_risk_larger():
    assert decision(4.2, 0.8, 5.0, rule="guard band", df=5).risk > decision(4.2, 0.8, 5.0, rule="guard band").risk
    assert guard_band(0.4, df=5) == pytest.approx(0.4 * t_quantile(0.95, 5))


def test_without_uncertainty_the_rules_agree_and_there_is_no_risk():
    for rule in RULES:
        assert [decision(x, 0, 5.0, rule=rule).decision for x in (5.0, 5.01)] == ["accept", "reject"]
        assert decision(5.0, 0, 5.0, rule=rule).risk == 0


@pytest.mark.parametrize(("rule", "sign"), [("guard band", 1), ("beyond reasonable doubt", -1)])
def test_an_uncertainty_that_grows_with_the_level_is_taken_where_the_rule_turns(rule, sign):
    model = LevelModel(0.3, 15)

    def U(x):
        return 2 * model.at(x)

    turning = acceptance_limit(5.0, U, rule=rule)
    assert turning + sign * U(turning) == pytest.approx(5.0)
    assert decision(turning - 0.001, U, 5.0, rule=rule).decision == "accept"
    assert decision(turning + 0.001, U, 5.0, rule=rule).decision == "reject"


def test_the_risk_rises_with_the_result_and_is_a_half_at_the_limit():
    curve = risk_curve(5.0, 0.8, rule="guard band")
    assert len(curve.results) == 121 and curve.acceptance_limit == 4.2
    assert all(a <= b for a, b in zip(curve.probability_above, curve.probability_above[1:], strict=False))
    assert curve.probability_above[60] == pytest.approx(0.5) and curve.results[60] == pytest.approx(5.0)


def test_a_default_of_a_law_holds_only_under_its_condition():
    found = default_uncertainty(8.0, rule="eu-2023-2782", mean_absolute_z=2.0)
    assert (found.U, found.u, found.k) == (4.0, 2.0, 2)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: expanded(1, k=2, df=5), "both given"),
        (lambda: expanded(1, df=0.8), "at least 1 needed"),
        (lambda: expanded(1, k=0), "above 0"),
        (lambda: expanded(-1), "not be below 0"),
        (lambda: top_down(-1, bias=0, s_bias=0, n_bias=1, u_reference=0), "s_rw"),
        (lambda: top_down(1, bias=0, s_bias=1, n_bias=1, u_reference=0), "at least 2"),
        (lambda: top_down(1, bias=0, s_bias=1, n_bias=3, u_reference=-1), "u_reference"),
        (lambda: top_down_several(1, biases=[1], u_references=[1]), "1 bias found, at least 2 needed"),
        (lambda: top_down_several(1, biases=[1, 2], u_references=[1]), "one each"),
        (lambda: top_down_several(1, biases=[1, 2], u_references=[1, -1]), "not be below 0"),
        (lambda: top_down_corrected(1, recovery=0, s_recovery=1, n_recovery=3, u_reference=0), "above 0"),
        (lambda: level_model([1], [1]), "1 level found, at least 2"),
        (lambda: level_model([1, 1], [1, 2]), "1 different level"),
        (lambda: level_model([1, 2], [1, 0]), "must be above 0"),
        (lambda: LevelModel(1, 1).at(-1), "not below 0"),
        (lambda: decision(1, 1, 1, rule="other"), "unknown rule"),
        (lambda: decision(1, -1, 1, rule="simple"), "U must not be below 0"),
        (lambda: acceptance_limit(5, lambda x: 6.0, rule="guard band"), "no result could be accepted"),
        (lambda: acceptance_limit(5, lambda x: x, rule="beyond reasonable doubt"), "every result would be accepted"),
        (lambda: default_uncertainty(8, rule="other", mean_absolute_z=1), "unknown rule"),
        (lambda: default_uncertainty(8, rule="eu-2023-2782", mean_absolute_z=None), "no score was given"),
        (lambda: default_uncertainty(8, rule="eu-2023-2782", mean_absolute_z=2.1), "found 2.1"),
    ],
)
def test_a_budget_or_rule_without_its_ground_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()
