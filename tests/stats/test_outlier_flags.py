"""Outlier flags: who is flagged, at which value, and what must not matter."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.stats.grubbs_pair_critical import CRITICAL
from validate.stats.outliers import cochran, grubbs, grubbs_pair

series = st.lists(st.integers(-500, 500), min_size=5, max_size=20, unique=True)


@given(series, st.sampled_from([0.01, 3.0]), st.integers(-1000, 1000))
def test_shift_scale_and_order_do_not_change_a_flag(values, scale, shift):
    moved = [scale * (v + shift) for v in reversed(values)]
    for test in (grubbs, lambda x: grubbs_pair(x, end="high"), lambda x: grubbs_pair(x, end="low")):
        assert test(moved).statistic == pytest.approx(test(values).statistic, rel=1e-9, abs=1e-12)


@given(series)
def test_the_two_ends_are_mirror_images(values):
    mirrored = [-v for v in values]
    assert grubbs_pair(values, end="low").statistic == pytest.approx(grubbs_pair(mirrored, end="high").statistic)
    low, high = grubbs(values, sides=1, end="low"), grubbs(mirrored, sides=1, end="high")
    assert low.statistic == pytest.approx(high.statistic) and low.critical_1 == high.critical_1


@given(series)
def test_the_flag_points_at_the_value_farthest_from_the_mean(values):
    found = grubbs(values)
    assert found.value == values[found.index]
    assert found.statistic == pytest.approx(np.max(np.abs(np.array(values) - np.mean(values))) / np.std(values, ddof=1))


@pytest.mark.parametrize("sides", [1, 2])
def test_the_chance_at_a_critical_value_is_its_level(sides):
    """A series that sits on the critical value itself: solved for the last of six results."""
    base, end = [9.8, 10.0, 10.1, 9.9, 10.2], None if sides == 2 else "high"
    low, high = 10.2, 20.0
    for _ in range(80):
        middle = (low + high) / 2
        found = grubbs([*base, middle], sides=sides, end=end)
        low, high = (middle, high) if found.statistic < found.critical_5 else (low, middle)
    assert found.p_bound == pytest.approx(0.05, abs=1e-9) and found.exact


@pytest.mark.parametrize(("n", "exact"), [(13, True), (14, False)])
def test_the_two_sided_five_per_cent_value_is_exact_up_to_thirteen_results(n, exact):
    assert (grubbs(range(n)).critical_5 ** 2 > (n - 1) / 2) is exact


def test_critical_values_of_a_pair_grow_with_n_and_carry_their_error():
    assert all(CRITICAL[a][i] < CRITICAL[b][i] for a, b in pairwise(CRITICAL) for i in (0, 2))
    assert max(max(row[1], row[3]) for row in CRITICAL.values()) < 0.0005


def test_a_pair_hides_from_the_single_test_and_not_from_the_pair_test():
    values = [10.1, 10.0, 9.9, 10.2, 10.0, 10.1, 11.4, 11.5]
    single, pair = grubbs(values), grubbs_pair(values, end="high")
    assert single.statistic < single.critical_5
    assert pair.statistic < pair.critical_1 and set(pair.index) == {6, 7} and pair.p_bound < 0.01


def test_the_share_of_one_variance_is_flagged_and_a_share_of_one_has_no_chance():
    found = cochran([0, 0, 4.0, 0], 3)
    assert (found.statistic, found.index, found.p_bound, found.exact) == (1, 2, 0, True)


def test_cochran_bound_at_its_critical_value_is_its_level():
    critical = cochran([1.0] * 8, 2).critical_1
    others = (1 - critical) / 7
    assert cochran([critical] + [others] * 7, 2).p_bound == pytest.approx(0.01, rel=1e-9)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: grubbs([1.0, 2.0]), "2 results found, at least 3 needed"),
        (lambda: grubbs([1.0, 1.0, 1.0]), "all results are equal"),
        (lambda: grubbs([1.0, 2.0, 4.0], sides=1), "end"),
        (lambda: grubbs([1.0, math.nan, 4.0]), "without a number"),
        (lambda: grubbs_pair([1.0, 2.0, 4.0], end="low"), "at least 4 needed"),
        (lambda: grubbs_pair(range(41), end="low"), "up to 40"),
        (lambda: grubbs_pair([1.0, 2.0, 4.0, 5.0], end="top"), "'low' or 'high'"),
        (lambda: cochran([0.0, 0.0, 0.0], 2), "all variances are 0"),
        (lambda: cochran([0.1], 2), "1 variance found, at least 2 needed"),
        (lambda: cochran([0.1, -0.1], 2), "negative"),
        (lambda: cochran([0.1, 0.2], 1), "at least 2 needed"),
    ],
)
def test_a_flag_that_cannot_be_computed_is_refused_with_the_reason(call, message):
    with pytest.raises(ValueError, match=message):
        call()
