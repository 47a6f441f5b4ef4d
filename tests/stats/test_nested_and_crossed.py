"""Nested and crossed components: closed forms where they exist, and what must not matter."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from validate.stats.precision import crossed, intermediate_limits, nested, one_way

RNG = np.random.default_rng(1987)


def two_way(days, analysts, replicates, spread, seed):
    """Results of a complete crossing, and its labels; spread: SD of day, analyst, both, rest."""
    rng = np.random.default_rng(seed)
    day, analyst, both, rest = spread
    y = 10 + day * rng.normal(size=(days, 1, 1)) + analyst * rng.normal(size=(1, analysts, 1))
    y = y + both * rng.normal(size=(days, analysts, 1)) + rest * rng.normal(size=(days, analysts, replicates))
    where = np.indices(y.shape)
    return y, {"day": where[0].ravel(), "analyst": where[1].ravel()}


def anova_components(y):
    """Untruncated components of a balanced two-way crossing from its mean squares."""
    a, b, n = y.shape
    cell, grand = y.mean(axis=2), y.mean()
    row, column = cell.mean(axis=1), cell.mean(axis=0)
    ms_day = b * n * np.sum((row - grand) ** 2) / (a - 1)
    ms_analyst = a * n * np.sum((column - grand) ** 2) / (b - 1)
    ms_both = n * np.sum((cell - row[:, None] - column + grand) ** 2) / ((a - 1) * (b - 1))
    ms_rest = np.sum((y - cell[..., None]) ** 2) / (a * b * (n - 1))
    return {
        "day": (ms_day - ms_both) / (b * n),
        "analyst": (ms_analyst - ms_both) / (a * n),
        "day × analyst": (ms_both - ms_rest) / n,
        "residual": ms_rest,
    }


@pytest.mark.parametrize("seed", range(4))
def test_reml_equals_the_analysis_of_variance_of_balanced_data_when_all_estimates_are_positive(seed):
    y, labels = two_way(6, 4, 3, (2.0, 2.0, 1.5, 0.5), seed)
    wanted = anova_components(y)
    assert min(wanted.values()) > 0
    found = crossed(y.ravel(), labels)
    assert found.components == pytest.approx(wanted, rel=1e-9)
    assert found.s_intermediate == pytest.approx(math.sqrt(sum(wanted.values())), rel=1e-9)
    assert found.df_within == pytest.approx(y.size - 24)
    assert sum(term.value for term in found.terms) == pytest.approx(sum(wanted.values()), rel=1e-9)


def test_a_component_that_would_be_negative_is_zero_and_the_rest_is_pooled():
    y = np.array([[[9.0, 11.0], [9.7, 10.5]], [[12.1, 13.9], [12.4, 13.4]], [[10.2, 12.2], [10.8, 11.6]]])
    wanted = anova_components(y)
    assert wanted["day × analyst"] < 0 and wanted["analyst"] < 0 < wanted["day"]
    labels = dict(zip(("day", "analyst"), np.indices(y.shape)[:2].reshape(2, -1), strict=True))
    found, pooled = crossed(y.ravel(), labels), one_way(y.ravel(), labels["day"])
    assert found.components["analyst"] == found.components["day × analyst"] == 0
    assert found.components["residual"] == pytest.approx(pooled.ms_within, rel=1e-10)
    assert found.components["day"] == pytest.approx(pooled.variance_between_raw, rel=1e-10)


def test_one_factor_gives_the_one_way_result():
    values, groups = RNG.normal(size=20) + np.repeat([0, 3, 1, 5], 5), np.repeat(list("abcd"), 5)
    found, one = crossed(values, {"day": groups}), one_way(values, groups)
    assert (found.s_r, found.s_intermediate) == pytest.approx((one.s_r, one.s_intermediate), rel=1e-10)
    for method in ("mls", "satterthwaite", "guarded"):
        ours, theirs = intermediate_limits(found, 0.9, method=method), intermediate_limits(one, 0.9, method=method)
        assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high), rel=1e-9)


def test_nested_labels_as_crossed_factors_give_the_nested_result():
    outer, inner = np.repeat(range(5), 6), np.tile(np.repeat([0, 1, 2], 2), 5)
    values = (3 * RNG.normal(size=5))[outer] + RNG.normal(size=(5, 3))[outer, inner] + 0.2 * RNG.normal(size=30)
    found = nested(values, outer, inner)
    assert min(found.variance_outer_raw, found.variance_inner_raw) > 0
    reml = crossed(values, {"laboratory": outer, "batch": [f"{a}{b}" for a, b in zip(outer, inner, strict=True)]})
    assert reml.components == pytest.approx(
        {
            "laboratory": found.variance_outer_raw,
            "batch": found.variance_inner_raw,
            "residual": found.ms_within,
        },
        rel=1e-8,
    )


@given(st.integers(2, 4), st.integers(2, 4), st.integers(2, 3), st.integers(0, 10**6))
@settings(max_examples=40, deadline=None)
def test_unbalanced_nested_formula_gives_the_balanced_one_for_balanced_data(a, b, n, seed):
    y = np.random.default_rng(seed).normal(size=(a, b, n))
    outer, inner, _ = np.indices(y.shape).reshape(3, -1)
    found = nested(y.ravel(), outer, inner)
    assert (found.k_inner, found.k_outer_inner, found.k_outer) == pytest.approx((n, n, b * n))
    cell = y.mean(axis=2)
    assert found.ms_outer == pytest.approx(b * n * np.var(cell.mean(axis=1), ddof=1), rel=1e-9)
    assert found.variance_outer_raw == pytest.approx((found.ms_outer - found.ms_inner) / (b * n), rel=1e-9, abs=1e-14)
    whole = found.variance_outer_raw + found.variance_inner_raw + found.ms_within
    assert sum(term.value for term in found.terms) == pytest.approx(whole, rel=1e-9)


def test_expected_mean_squares_of_an_unbalanced_nested_design_hold():
    """Each mean square averages to its expectation over 4000 data sets (within 4 standard errors)."""
    outer = np.repeat([0, 1, 2, 3], [2, 5, 3, 6])
    inner = np.array([0, 0, 0, 0, 1, 1, 2, 0, 1, 1, 0, 0, 0, 0, 1, 2])
    rng, var = np.random.default_rng(571), {"outer": 4.0, "inner": 2.0, "rest": 1.0}
    squares = []
    for _ in range(4000):
        y = 2 * rng.normal(size=4)[outer] + math.sqrt(2) * rng.normal(size=(4, 3))[outer, inner] + rng.normal(size=16)
        found = nested(y, outer, inner)
        squares.append((found.ms_outer, found.ms_inner, found.ms_within))
    wanted = (
        var["rest"] + found.k_outer_inner * var["inner"] + found.k_outer * var["outer"],
        var["rest"] + found.k_inner * var["inner"],
        var["rest"],
    )
    error = np.std(squares, axis=0) / math.sqrt(len(squares))
    assert np.all(np.abs(np.mean(squares, axis=0) - wanted) < 4 * error)


@given(st.integers(0, 10**6), st.sampled_from([1e-3, 7.0, 1e5]), st.integers(-1000, 1000))
@settings(max_examples=25, deadline=None)
def test_shift_scale_and_order_do_not_matter_for_unbalanced_crossed_data(seed, scale, shift):
    rng = np.random.default_rng(seed)
    y, labels = two_way(5, 3, 2, (1.0, 1.0, 0.5, 0.5), seed)
    keep = rng.permutation(y.size)[:26]
    values, mixed = y.ravel()[keep], rng.permutation(26)
    before = crossed(values, {name: label[keep] for name, label in labels.items()})
    after = crossed(scale * (values[mixed] + shift), {name: label[keep][mixed] for name, label in labels.items()})
    assert after.s_intermediate == pytest.approx(scale * before.s_intermediate, rel=1e-7)
    assert after.s_r == pytest.approx(scale * before.s_r, rel=1e-7)
    assert after.mean == pytest.approx(scale * (before.mean + shift), rel=1e-7, abs=1e-7 * scale)


def test_without_repeated_results_the_interaction_is_left_in_the_residual():
    y, labels = two_way(6, 4, 1, (1.0, 1.0, 0.0, 0.5), 5)
    found = crossed(y.ravel(), labels)
    assert set(found.components) == {"day", "analyst", "residual"} and not found.complete


def test_factors_that_change_together_cannot_be_told_apart():
    labels = {"day": [1, 1, 2, 2, 3, 3], "analyst": list("AABBCC")}
    with pytest.raises(ValueError, match="cannot be told apart"):
        crossed([1.0, 1.2, 2.0, 2.1, 3.0, 3.3], labels)


def test_results_that_repeat_exactly_are_refused_with_the_reason():
    with pytest.raises(ValueError, match="repeat exactly"):
        crossed([1.0, 1.0, 2.0, 2.0, 3.0, 3.0], {"day": [1, 1, 2, 2, 3, 3]})
    with pytest.raises(ValueError, match="all results are equal"):
        crossed([1.0] * 6, {"day": [1, 1, 2, 2, 3, 3]})


def test_inner_labels_used_again_name_different_cells():
    values, outer = [1.0, 1.2, 3.0, 3.1, 5.0, 5.3, 8.0, 8.1], [1, 1, 1, 1, 2, 2, 2, 2]
    again = nested(values, outer, ["a", "a", "b", "b"] * 2)
    unique = nested(values, outer, ["a", "a", "b", "b", "c", "c", "d", "d"])
    assert again == unique


def test_terms_of_an_unbalanced_nested_design_estimate_the_total_variance():
    """Their sum averages to σ_outer² + σ_inner² + σ² (4000 data sets, within 4 standard errors)."""
    outer = np.repeat([0, 1, 2, 3], [3, 3, 5, 5])
    inner = np.array([0, 0, 0, 0, 0, 0, 0, 1, 2, 3, 3, 0, 1, 1, 2, 2])
    rng = np.random.default_rng(572)
    totals = []
    for _ in range(4000):
        y = rng.normal(size=4)[outer] + rng.normal(size=(4, 4))[outer, inner] + 2 * rng.normal(size=16)
        found = nested(y, outer, inner)
        totals.append((sum(t.value for t in found.terms), sum(t.value for t in found.terms_within_outer)))
    error = np.std(totals, axis=0) / math.sqrt(len(totals))
    assert np.all(np.abs(np.mean(totals, axis=0) - (6, 5)) < 4 * error)
