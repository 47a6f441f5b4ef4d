"""Passing and Bablok's line against its definition, pair by pair in exact arithmetic, both directions."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from validate.stats import comparison_directions
from validate.stats.comparison import passing_bablok
from validate.stats.comparison_directions import Directions
from validate.stats.comparison_ranks import BY_BOOTSTRAP, BY_RANKS


def slopes_by_definition(x, y):
    """All slopes in ascending order, without identical points and slopes of −1; K; concordant − discordant."""
    slopes, balance = [], 0
    for i in range(len(x)):
        for j in range(i + 1, len(x)):
            dx, dy = Fraction(x[j]) - Fraction(x[i]), Fraction(y[j]) - Fraction(y[i])
            balance += (dx * dy > 0) - (dx * dy < 0)
            if dx == 0 and dy == 0:
                continue
            slope = math.copysign(math.inf, dy) if dx == 0 else dy / dx
            if slope != -1:
                slopes.append(slope)
    return sorted(slopes), sum(slope < -1 for slope in slopes), balance


def slope_by_definition(x, y):
    """The shifted median, or None where there is no line."""
    slopes, k, balance = slopes_by_definition(x, y)
    n = len(slopes)
    places = [(n + 1) // 2 + k, n // 2 + 1 + k]
    if balance <= 0 or places[1] > n:
        return None
    middle = [slopes[place - 1] for place in places]
    if any(slope <= 0 or math.isinf(slope) for slope in middle):
        return None
    return math.sqrt(middle[0] * middle[1])


def slope_found(x, y):
    try:
        return passing_bablok(x, y).slope
    except ValueError:
        return None


COARSE = st.lists(st.tuples(st.integers(0, 7), st.integers(-3, 3)), min_size=5, max_size=11)
"""Points on a coarse grid about y = x: many ties, vertical pairs, identical points, slopes of −1."""


@settings(max_examples=300, deadline=None)
@given(points=COARSE)
def test_the_slope_is_the_shifted_median_of_its_definition_in_both_directions(points):
    x, y = [float(a) for a, _ in points], [float(a + d) for a, d in points]
    for first, second in ((x, y), (y, x)):
        wanted = slope_by_definition(first, second)
        assert slope_found(first, second) == (None if wanted is None else pytest.approx(wanted, rel=1e-12))


@settings(max_examples=200, deadline=None)
@given(points=COARSE)
def test_exchanging_the_two_turns_slope_and_intercept_over(points):
    x, y = [float(a) for a, _ in points], [float(a + d) for a, d in points]
    there, back = slope_found(x, y), slope_found(y, x)
    assert (there is None) == (back is None)
    if there is not None:
        assert back == pytest.approx(1 / there, rel=1e-12)
        there_line, back_line = passing_bablok(x, y), passing_bablok(y, x)
        assert back_line.intercept == pytest.approx(-there_line.intercept / there_line.slope, abs=1e-9)


def test_the_order_of_the_points_does_not_matter():
    rng = np.random.default_rng(4)
    x = rng.integers(0, 40, 60).astype(float)
    y = x + rng.integers(-4, 5, 60)
    order = rng.permutation(60)
    one, other = passing_bablok(x, y), passing_bablok(x[order], y[order])
    assert (one.slope, one.intercept, one.slope_limits) == (other.slope, other.intercept, other.slope_limits)


def test_decimals_that_differ_by_rounding_alone_still_give_a_slope_of_minus_one():
    """0.1 + 0.7 and 0.3 + 0.5 are different doubles; the pair has a slope of −1 and is left out."""
    assert Directions(np.array([0.1, 0.3]), np.array([0.7, 0.5])).kept == 0


def test_the_limits_stand_at_the_ranks_of_the_definition():
    rng = np.random.default_rng(6)
    x = rng.uniform(10, 100, 41)
    y = 1.1 * x - 2 + rng.normal(0, 4, 41)
    slopes, k, _ = slopes_by_definition(x, y)
    c = 1.959963984540054 * math.sqrt(41 * 40 * 87 / 18)
    first = math.floor((len(slopes) - c) / 2 + 0.5)
    found = passing_bablok(x, y)
    assert found.slope_limits.low == pytest.approx(float(slopes[first + k - 1]), rel=1e-9)
    assert found.slope_limits.high == pytest.approx(float(slopes[len(slopes) - first + k]), rel=1e-9)
    assert found.slope_limits.method == BY_RANKS and found.why_bootstrap == ""
    assert found.intercept_limits.low == pytest.approx(np.median(y - found.slope_limits.high * x), rel=1e-9)


@pytest.mark.parametrize("step", [None, 1.0, 10.0])
def test_searching_the_ranks_gives_the_same_directions_as_sorting_all_of_them(step, monkeypatch):
    rng = np.random.default_rng(8)
    x = rng.uniform(0, 100, 650)
    y = x + rng.normal(0, 3, 650)
    if step:
        x, y = np.round(x / step) * step, np.round(y / step) * step
    whole = Directions(x, y)
    ranks = [1, whole.kept // 3, whole.kept // 2, whole.kept // 2 + 1, whole.kept]
    monkeypatch.setattr(comparison_directions, "ALL_AT_ONCE", 10)
    searched = Directions(x, y)
    assert searched.at(ranks) == whole.at(ranks)
    counts = ("kept", "concordant", "discordant", "vertical", "horizontal", "identical")
    assert [getattr(searched, name) for name in counts] == [getattr(whole, name) for name in counts]


def test_below_thirty_points_the_limits_come_from_the_bootstrap_and_the_result_says_so():
    x = np.arange(1.0, 21)
    found = passing_bablok(x, x + np.tile([0.4, -0.3, 0.1, -0.2], 5))
    assert found.slope_limits.method == BY_BOOTSTRAP and "fewer than 30" in found.why_bootstrap
    assert found.slope_limits.low < found.slope < found.slope_limits.high


def test_many_equal_values_are_warned_of():
    x = np.repeat(np.arange(1.0, 6), 8)
    found = passing_bablok(x, x + np.tile([0.0, 1.0], 20))
    assert found.tied_share > 0.1 and "equal values" in found.warnings[0]


@pytest.mark.parametrize(
    ("x", "y", "why"),
    [
        ([1.0, 2, 3, 4], [1.0, 2, 3, 4], "at least 5"),
        ([1.0, 2, 3, 4, 5], [5.0, 4, 3, 2, 1], "do not rise together"),
        ([2.0] * 5, [1.0, 2, 3, 4, 5], "do not rise together"),
        ([1.0, 2, 3, 4, 5], [1.0, 2, 3, 4, math.nan], "without a number"),
        ([1.0, 2, 3, 4, 5, 6], [1.0, 1, 1, 1, 1, 2], "too many equal values"),
        (np.arange(20_001.0), np.arange(20_001.0), "at most 20000"),
    ],
)
def test_what_gives_no_line_is_refused_with_its_reason(x, y, why):
    with pytest.raises(ValueError, match=why):
        passing_bablok(x, y)
