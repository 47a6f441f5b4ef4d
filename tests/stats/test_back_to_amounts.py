"""From signals back to amounts: inverse prediction and back-calculated levels."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.stats.intervals import t_quantile
from validate.stats.regression import back_calculated, inverse_predict, line

X = [1.0, 1.0, 2.0, 2.0, 5.0, 5.0, 10.0, 10.0]
Y = [2.2, 2.0, 4.3, 4.0, 10.4, 9.7, 20.9, 20.1]
WEIGHTS = 1 / np.array(X) ** 2


def signal_misfit(fit, x, y0, m, w0):
    """|y0 − ŷ(x)| over its standard error: Fieller's limits are where this is t."""
    return abs(y0 - fit.intercept - fit.slope * x) / (fit.residual_sd * math.sqrt(1 / (m * w0) + fit.leverage(x)))


@given(st.floats(0.5, 25), st.integers(1, 6), st.booleans(), st.booleans(), st.sampled_from([0.5, 0.9, 0.95]))
def test_the_limits_are_where_the_signal_is_just_compatible(y0, m, weighted, origin, level):
    fit = line(X, Y, WEIGHTS if weighted else None, through_origin=origin)
    w0 = 0.04 if weighted else None
    found = inverse_predict(fit, y0, m=m, weight_at_y0=w0, level=level)
    t = t_quantile((1 + level) / 2, fit.df)
    scaled = w0 / fit.weight_mean if weighted else 1.0
    assert found.low < found.x < found.high
    for end in (found.low, found.high):
        assert signal_misfit(fit, end, y0, m, scaled) == pytest.approx(t, rel=1e-9)


@given(st.floats(0.5, 25), st.sampled_from([1e-3, 40.0]))
def test_the_weight_at_the_signal_is_in_the_units_of_the_weights(y0, factor):
    first = inverse_predict(line(X, Y, WEIGHTS), y0, weight_at_y0=0.1)
    second = inverse_predict(line(X, Y, WEIGHTS * factor), y0, weight_at_y0=0.1 * factor)
    assert (first.s_x, first.low, first.high) == pytest.approx((second.s_x, second.low, second.high), rel=1e-9)


def test_a_falling_line_gives_the_mirrored_limits():
    up, down = inverse_predict(line(X, Y), 8.0), inverse_predict(line(X, -np.array(Y)), -8.0)
    assert (up.x, up.s_x, up.low, up.high) == pytest.approx((down.x, down.s_x, down.low, down.high))


def test_a_slope_that_could_be_zero_bounds_nothing():
    found = inverse_predict(line([1, 2, 3, 4], [5.0, 5.4, 4.9, 5.5]), 5.2)
    assert not found.bounded and found.low is found.high is None
    assert found.reason == "slope not distinguishable from zero" and found.approximate and found.x is not None


def test_a_slope_of_zero_gives_no_amount():
    found = inverse_predict(line([1, 2, 3], [1, 0, 1]), 0.5)
    assert found.x is None and found.s_x is None and not found.bounded and "it is 0" in found.reason


def test_a_g_above_a_tenth_marks_the_standard_error_as_approximate():
    rough = line([1, 2, 3, 4, 5], [1.3, 1.6, 3.6, 3.7, 5.2])
    found = inverse_predict(rough, 3.0)
    assert found.bounded and 0.1 <= found.g < 1 and found.approximate
    assert not inverse_predict(line(X, Y), 8.0).approximate


def test_outside_the_levels_is_extrapolated_and_their_ends_are_not():
    fit = line(X, Y)
    ends = [fit.intercept + fit.slope * x for x in (1.0, 10.0)]
    assert [inverse_predict(fit, y0).extrapolated for y0 in ends] == [False, False]
    assert inverse_predict(fit, ends[0] - 0.1).extrapolated and inverse_predict(fit, ends[1] + 0.1).extrapolated


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: inverse_predict(line(X, Y, WEIGHTS), 5.0), "weight_at_y0 is needed"),
        (lambda: inverse_predict(line(X, Y), 5.0, weight_at_y0=1.0), "no weights"),
        (lambda: inverse_predict(line(X, Y, WEIGHTS), 5.0, weight_at_y0=0), "above 0"),
        (lambda: inverse_predict(line(X, Y), 5.0, m=0), "at least 1"),
        (lambda: inverse_predict(line(X, Y), math.nan), "finite"),
        (lambda: back_calculated(line([1, 2, 3], [1, 0, 1])), "no level can be back-calculated"),
    ],
)
def test_an_amount_that_nothing_bounds_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_pooled_scatter_of_a_level_mean_by_hand():
    fit = line(X, Y)
    pure = sum((a - b) ** 2 / 2 for a, b in zip(Y[::2], Y[1::2], strict=True))
    s, first = math.sqrt(pure / 4), back_calculated(fit)[0]
    assert first.found == pytest.approx((2.1 - fit.intercept) / fit.slope)
    assert first.deviation_percent == pytest.approx(100 * (first.found - 1))
    assert first.u_percent == pytest.approx(100 * s / math.sqrt(2) / fit.slope)
    assert first.high - first.deviation_percent == pytest.approx(t_quantile(0.95, 4) * first.u_percent)
    assert [row.at for row in back_calculated(fit)] == [1, 2, 5, 10] and first.df == 4


def test_scatter_of_the_level_itself_has_its_own_degrees_of_freedom():
    rows = back_calculated(line([1, 1, 1, 2, 5, 5], [2.0, 2.3, 2.1, 4.0, 10.4, 9.7]), scatter="level")
    assert [row.df for row in rows] == [2, 0, 1]
    assert rows[1].low is None and rows[1].deviation_percent is not None and "its own scatter" in rows[1].reason


def test_without_replicates_the_residual_scatter_stands_in():
    fit = line([1, 2, 4, 8], [1.1, 2.3, 3.9, 8.4])
    row = back_calculated(fit)[0]
    assert row.df == fit.df and row.u_percent == pytest.approx(100 * fit.residual_sd / fit.slope)


def test_weights_narrow_the_limits_where_the_weight_is_high():
    plain, weighted = (back_calculated(line(X, Y, w))[0] for w in (None, WEIGHTS))
    assert weighted.u_percent < plain.u_percent


def test_level_zero_has_a_deviation_but_no_percentage():
    row = back_calculated(line([0, 0, 2, 4], [0.1, 0.3, 2.1, 4.4]))[0]
    assert row.deviation_percent is None and row.low is None and "level 0" in row.reason
    assert row.deviation == pytest.approx(row.found)


@given(st.sampled_from([1e-4, 12.0, 1e5]))
def test_percentages_do_not_depend_on_units(factor):
    before = back_calculated(line(X, Y))
    after = back_calculated(line(np.array(X) * factor, np.array(Y) / factor))
    for a, b in zip(before, after, strict=True):
        assert (a.deviation_percent, a.low, a.high) == pytest.approx((b.deviation_percent, b.low, b.high), rel=1e-8)
