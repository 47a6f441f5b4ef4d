"""Lack of fit, the fitting test, and the curve against the line."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.stats.regression import lack_of_fit, line, mandel_fitting_test, quadratic_against_line

X = np.array([1.0, 1.0, 2.0, 2.0, 5.0, 5.0, 10.0, 10.0])
Y = np.array([2.2, 2.0, 4.3, 4.0, 10.4, 9.7, 19.9, 19.1])

signals = st.lists(st.integers(-300, 300).map(lambda v: v / 100), min_size=8, max_size=8).filter(
    lambda v: len(set(v[::2])) > 1 and v[0] != v[1]
)


@given(signals)
def test_lack_of_fit_and_pure_error_add_up_to_the_residual_squares(noise):
    y, w = Y + noise, 1 / X
    test, fit = lack_of_fit(X, y, w), line(X, y, w)
    assert test.ss_lack + test.ss_pure == pytest.approx(fit.residual_sd**2 * fit.df, rel=1e-10)
    assert (test.df_lack, test.df_pure) == (2, 4)


@given(signals)
def test_the_fitting_test_is_the_squared_t_of_the_quadratic_term(noise):
    y = Y + noise
    test = mandel_fitting_test(X, y)
    design = np.column_stack([np.ones(8), X, X**2])
    beta, squares, *_ = np.linalg.lstsq(design, y, rcond=None)
    s2 = squares[0] / 5
    t = beta[2] / np.sqrt(s2 * np.linalg.inv(design.T @ design)[2, 2])
    assert test.f == pytest.approx(t**2, rel=1e-6) and test.df == 5
    s1 = line(X, y).residual_sd
    assert test.f == pytest.approx((6 * s1**2 - 5 * s2) / s2, rel=1e-5, abs=1e-6)


@given(signals, st.booleans())
def test_the_largest_distance_over_the_range_is_found_without_a_grid(noise, weighted):
    y = Y + noise
    w = 1 / X**2 if weighted else None
    if line(X, y, w).slope < 0.05:
        return
    found, fit = quadratic_against_line(X, y, w), line(X, y, w)
    curve = np.polyfit(X, y, 2, w=None if w is None else np.sqrt(w))
    grid = np.linspace(1, 10, 4001)
    distance = 100 * (np.polyval(curve, grid) - fit.intercept - fit.slope * grid) / (fit.slope * grid)
    assert abs(found.deviation_percent) == pytest.approx(np.abs(distance).max(), rel=1e-5, abs=1e-6)
    assert found.low <= found.deviation_percent <= found.high
    assert [level for level, _ in found.at_levels] == [1, 2, 5, 10]


def test_a_range_leaves_out_what_lies_outside():
    whole, part = quadratic_against_line(X, Y), quadratic_against_line(X, Y, lowest=2, highest=5)
    assert (part.lowest, part.highest) == (2, 5) and 2 <= part.at <= 5
    assert abs(part.deviation_percent) < abs(whole.deviation_percent)
    assert [level for level, _ in part.at_levels] == [2, 5]


def test_level_zero_does_not_belong_to_the_range():
    assert quadratic_against_line([0, 1, 2, 3, 4], [0, 1.1, 1.9, 3.2, 4.1]).lowest == 1


def test_points_on_a_line_or_a_parabola_have_no_f_and_say_so():
    x = np.arange(1.0, 6.0)
    straight, bent = quadratic_against_line(x, 0.1 + 3 * x), quadratic_against_line(x, x + x**2 / 10)
    assert straight.f is None and "exactly" in straight.reason and abs(straight.deviation_percent) < 1e-10
    assert bent.f is None and bent.deviation_percent == pytest.approx(100 * 0.1 * 2 / 1.6)
    assert mandel_fitting_test(x, 0.1 + 3 * x).f is None


def test_replicates_that_repeat_exactly_have_no_f_and_say_so():
    test = lack_of_fit([1, 1, 2, 2, 3, 3], [0.1, 0.1, 0.7, 0.7, 0.9, 0.9])
    assert test.f is None and test.p_value is None and "repeat exactly" in test.reason


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: lack_of_fit([1, 1, 2, 2], [1, 2, 3, 4]), "2 levels found, at least 3 needed"),
        (lambda: lack_of_fit([1, 2, 3], [1, 2, 4]), "no replicates among 3 points"),
        (lambda: mandel_fitting_test([1, 2, 3], [1, 2, 4]), "3 points found, at least 4 needed"),
        (lambda: mandel_fitting_test([1, 1, 2, 2], [1, 2, 3, 4]), "2 levels found, at least 3 needed"),
        (lambda: quadratic_against_line(X, Y, lowest=0), "above 0"),
        (lambda: quadratic_against_line(X, Y, highest=20), "inside the calibrated 1 to 10"),
        (lambda: quadratic_against_line(X, Y, lowest=5, highest=5), "must rise"),
        (lambda: quadratic_against_line([-2, -1, 1, 2], [1, 2, 2, 1]), "slope is 0"),
    ],
)
def test_a_bend_that_cannot_be_judged_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()
