"""The calibration line: what must not change it, what must, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.stats.regression import level_weights, line, lines

LEVELS = [1.0, 1.0, 2.0, 5.0, 5.0, 10.0]
SIGNALS = [2.2, 2.0, 4.3, 10.4, 9.7, 20.9]

tenths = st.integers(-2000, 2000).map(lambda v: v / 10)
weight = st.integers(1, 500).map(lambda v: v / 100)
points = st.lists(st.tuples(tenths, tenths, weight), min_size=4, max_size=12).filter(
    lambda rows: len({x for x, _, _ in rows}) > 1
)


def columns(rows):
    return (np.array(column) for column in zip(*rows, strict=True))


@given(points, st.floats(-1e3, 1e3), st.floats(-1e3, 1e3))
def test_a_shift_of_x_or_y_moves_only_the_intercept(rows, dx, dy):
    x, y, w = columns(rows)
    before, after = line(x, y, w), line(x + dx, y + dy, w)
    scale = np.abs(y).max() + abs(before.slope) * (np.abs(x).max() + 1e3) + 1e3
    assert after.slope == pytest.approx(before.slope, rel=1e-9, abs=1e-9)
    assert after.intercept == pytest.approx(before.intercept + dy - before.slope * dx, abs=1e-9 * scale)
    assert after.residual_sd == pytest.approx(before.residual_sd, rel=1e-9, abs=1e-9 * scale)


@given(points, st.sampled_from([1e-6, 0.3, 1e5]), st.sampled_from([1e-4, 7.0, 1e6]))
def test_units_of_x_and_y_do_not_matter(rows, per_x, per_y):
    x, y, w = columns(rows)
    before, after = line(x, y, w), line(x * per_x, y * per_y, w)
    assert after.slope * per_x / per_y == pytest.approx(before.slope, rel=1e-9, abs=1e-9)
    assert after.se_slope * per_x / per_y == pytest.approx(before.se_slope, rel=1e-9, abs=1e-9)
    assert after.intercept / per_y == pytest.approx(before.intercept, rel=1e-9, abs=1e-8)


@given(points, st.randoms(use_true_random=False))
def test_the_order_of_the_points_does_not_matter(rows, random):
    mixed = list(rows)
    random.shuffle(mixed)
    first, second = (line(*columns(some)) for some in (rows, mixed))
    assert (first.slope, first.intercept) == pytest.approx((second.slope, second.intercept), rel=1e-12, abs=1e-11)
    assert first.residual_sd == pytest.approx(second.residual_sd, rel=1e-12, abs=1e-11)


@given(points, st.sampled_from([1e-8, 3.0, 1e9]))
def test_only_the_proportions_of_weights_count(rows, factor):
    x, y, w = columns(rows)
    before, after = line(x, y, w), line(x, y, w * factor)
    assert (after.slope, after.se_slope, after.residual_sd) == pytest.approx(
        (before.slope, before.se_slope, before.residual_sd), rel=1e-9, abs=1e-9
    )
    assert after.weight_mean == pytest.approx(before.weight_mean * factor)


@given(points)
def test_unit_weights_are_no_weights(rows):
    x, y, _ = columns(rows)
    plain, weighted = line(x, y), line(x, y, np.ones(len(x)))
    assert (plain.slope, plain.intercept, plain.se_intercept) == (
        weighted.slope,
        weighted.intercept,
        weighted.se_intercept,
    )
    assert weighted.weighted and not plain.weighted


@given(points)
def test_residuals_have_no_weighted_mean_and_no_weighted_slope(rows):
    x, y, w = columns(rows)
    fit = line(x, y, w)
    residual, size = np.array(fit.residuals), np.abs(y).max() + 1
    assert abs(np.sum(np.array(fit.weights) * residual)) <= 1e-11 * size * len(x)
    assert abs(np.sum(np.array(fit.weights) * residual * (x - fit.x_mean))) <= 1e-9 * size * len(x) * np.ptp(x)


def test_an_integer_weight_is_a_repeated_point():
    weighted = line([1, 2, 4, 8], [1.1, 2.3, 3.9, 8.4], [1, 2, 1, 3])
    repeated = line([1, 2, 2, 4, 8, 8, 8], [1.1, 2.3, 2.3, 3.9, 8.4, 8.4, 8.4])
    assert (weighted.slope, weighted.intercept) == pytest.approx((repeated.slope, repeated.intercept), rel=1e-13)


def test_standard_errors_are_those_of_the_normal_equations():
    w = level_weights(LEVELS, power=2)
    fit = line(LEVELS, SIGNALS, w)
    design = np.column_stack([np.ones(6), LEVELS])
    covariance = np.linalg.inv(design.T @ (w[:, None] * design)) * np.sum(w * np.array(fit.residuals) ** 2) / 4
    assert (fit.se_intercept, fit.se_slope) == pytest.approx(np.sqrt(np.diag(covariance)), rel=1e-12)


def test_a_large_common_part_costs_no_digits():
    """y = 3 + 2(x − 1e9) with x at 1e9: exact in decimals, lost by sums of squares."""
    x = 1e9 + np.arange(6.0)
    fit = line(x, 1e12 + 2 * np.arange(6.0))
    assert fit.slope == 2.0 and fit.residual_sd == 0.0
    assert fit.intercept == 1e12 - 2e9


def test_a_line_through_the_origin_has_no_intercept_and_another_r_squared():
    fit = line([1, 2, 4], [2.1, 3.9, 8.2], through_origin=True)
    assert fit.intercept == 0 and fit.se_intercept is None and fit.intercept_limits is None and fit.df == 2
    assert fit.slope == pytest.approx((2.1 + 7.8 + 32.8) / 21) and fit.r_squared_kind == "uncentred"
    assert fit.at(0).low == fit.at(0).high == 0


def test_signals_that_do_not_vary_have_no_r_squared():
    assert line([1, 2, 3], [5, 5, 5]).r_squared is None
    assert line([1, 2, 3], [5, 5, 5]).method_sd is None


def test_the_band_of_the_line_is_narrowest_at_the_mean():
    fit = line(LEVELS, SIGNALS)
    width = {x: fit.at(x).high - fit.at(x).low for x in (0.0, fit.x_mean, 10.0)}
    assert width[fit.x_mean] == min(width.values())
    assert width[0.0] / 2 == pytest.approx((fit.intercept_limits.high - fit.intercept_limits.low) / 2)


@given(points)
def test_many_lines_are_the_same_lines(rows):
    x, y, w = columns(rows)
    if np.ptp(y) == 0:
        return
    one, many = line(x, y, w), lines(x, np.array([y, 2 * y + 1]), np.array([w, w]))
    size = np.abs(y).max() + abs(one.slope) * np.abs(x).max()
    assert many.slope[0] == pytest.approx(one.slope, rel=1e-8, abs=1e-10)
    assert many.slope[1] == pytest.approx(2 * one.slope, rel=1e-8, abs=1e-10)
    assert many.intercept_low[0] == pytest.approx(one.intercept_limits.low, abs=1e-8 * (1 + size))
    assert many.slope_high[0] == pytest.approx(one.slope_limits.high, rel=1e-8, abs=1e-8 * (1 + size))
    assert many.residual_sd[0] == pytest.approx(one.residual_sd, rel=1e-8, abs=1e-10 * (1 + size))


def test_a_row_that_cannot_be_fitted_says_why_and_leaves_the_others():
    nan, good = math.nan, [1.0, 2.0, 3.1]
    y = [good, [1, nan, 3], [1, math.inf, 3], good, good, [4, 4, 4], [1, 1e200, 3], good]
    w = np.ones((8, 3))
    w[3, 1] = 0
    x = np.array([[1.0, 2, 3]] * 7 + [[1e-200, 2e-200, 3e-200]])
    x[4] = 2
    found = lines(x, y, w)
    assert found.reason == (
        None,
        "a missing or infinite number",
        "a missing or infinite number",
        "a weight that is not above 0",
        "all x are equal",
        "the signals do not vary",
        "a number too large to be squared",
        "the differences are too small or too large for doubles",
    )
    assert np.isnan(found.slope[1:]).all() and found.slope[0] == pytest.approx(1.05)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: line([1, 2], [1, 2]), "2 xs found, at least 3 needed"),
        (lambda: line([1, 2, 3], [1, 2, 3, 4]), "3 x and 4 signals"),
        (lambda: line([2, 2, 2], [1, 2, 3]), "all x are equal"),
        (lambda: line([0, 0, 0], [1, 2, 3], through_origin=True), "all x are 0"),
        (lambda: line([1, 2, 3], [1, 2, 3], [1, 0, 1]), "weight must be above 0"),
        (lambda: line([1, 2, 3], [1, 2, 3], [1, math.inf, 1]), "without a number"),
        (lambda: line([1, 2, 3], [1, 2, 3], [1, 1]), "2 weights found for 3 points"),
        (lambda: line([1, 2, 3], [1, 2, 3], level=95), "between 0 and 1"),
        (lambda: level_weights([0, 1, 2], power=1), "level 0 has no weight 1/x.1: give a floor"),
        (lambda: level_weights([0, 1, 2], power=1, floor=0), "floor of the weights must be above 0"),
        (lambda: lines([1, 2, 3], [1, 2, 3]), "1 dimensions"),
        (lambda: lines([1, 2], [[1, 2]]), "2 points a row found, at least 3"),
        (lambda: lines([1, 2], [[1, 2, 3]]), r"x of shape \(2,\)"),
    ],
)
def test_what_has_no_line_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()
