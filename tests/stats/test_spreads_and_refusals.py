"""Spread by group and level; refusals common to all formulas; cost of the import."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.stats.descriptive import summary
from validate.stats.intervals import sd_limits, t_limits
from validate.stats.precision import one_way
from validate.stats.variances import brown_forsythe, spread_by_level


@given(st.floats(0.2, 2), st.floats(-3, 1))
def test_a_power_law_gives_its_exponent(exponent, lg_factor):
    levels = np.array([1.0, 2.0, 5.0, 10.0, 40.0])
    sds = 10**lg_factor * levels**exponent * np.array([1.01, 0.98, 1.0, 1.02, 0.99])
    found = spread_by_level(levels, sds)
    assert found.slope == pytest.approx(exponent, abs=0.05)
    assert found.slope_limits.low < exponent < found.slope_limits.high


def test_points_on_a_line_have_no_t_and_say_so():
    found = spread_by_level([1, 10, 100], [1, 10, 100])
    if found.t is None:
        assert "exactly" in found.reason
    assert found.slope == pytest.approx(1) and found.se_slope == pytest.approx(0, abs=1e-12)


@given(st.integers(0, 10**6), st.sampled_from([0.01, 50.0]), st.integers(-1000, 1000))
def test_shift_and_scale_do_not_change_the_test_of_spreads(seed, scale, shift):
    values, groups = np.random.default_rng(seed).normal(size=12), np.repeat([1, 2, 3], 4)
    before, after = brown_forsythe(values, groups), brown_forsythe(scale * (values + shift), groups)
    assert (after.f, after.p_value) == pytest.approx((before.f, before.p_value), rel=1e-6)


def test_three_results_in_a_group_are_too_few_for_the_median_test():
    with pytest.raises(ValueError, match="3 results found in a group, at least 4 needed"):
        brown_forsythe([1, 2, 3, 1, 2, 3, 4, 5], [1, 1, 1, 2, 2, 2, 2, 2])


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: summary([1.0]), "1 result found, at least 2 needed"),
        (lambda: summary([1.0, float("inf")]), "1 of 2 results found without a number"),
        (lambda: summary([1.0, "<2"]), "must be a number"),
        (lambda: summary([[1.0, 2.0]]), "2 dimensions"),
        (lambda: summary([1e200, -1e200]), "cannot be squared"),
        (lambda: summary([1.0, 2.0], level=95), "between 0 and 1"),
        (lambda: summary([1.0, 2.0], [1]), "1 group label found for 2 results"),
        (lambda: one_way([1.0, 2.0, 3.0], ["a", "a", float("nan")]), "label is missing"),
        (lambda: one_way([1.0, 2.0, 3.0], pd.Series(["a", "a", pd.NA])), "label is missing"),
        (lambda: one_way([1.0, 2.0, 3.0], [1, 1, 1]), "1 group found, at least 2 needed"),
        (lambda: one_way([1.0, 2.0, 3.0], [1, 2, 3]), "no group has a second result"),
        (lambda: spread_by_level([1, 2], [1, 2]), "2 levels found, at least 3 needed"),
        (lambda: spread_by_level([1, 1, 1], [1, 2, 3]), "at least 2 needed"),
        (lambda: spread_by_level([1, 2, 3], [1, 0, 3]), "no logarithm"),
        (lambda: sd_limits(-1, 3, 0.95), "not be below 0"),
        (lambda: sd_limits(1, 0, 0.95), "above 0"),
        (lambda: t_limits(1, 1, float("nan"), 0.95), "finite"),
    ],
)
def test_bad_input_is_refused_with_what_was_found_and_what_is_needed(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_series_arrays_and_lists_give_the_same_result():
    values, groups = [10.1, 10.3, 9.6, 9.9], ["a", "a", "b", "b"]
    frame = pd.DataFrame({"y": values, "g": groups}, index=[7, 3, 9, 1])
    assert one_way(frame["y"], frame["g"]) == one_way(np.array(values), np.array(groups)) == one_way(values, groups)


def test_importing_a_topic_imports_neither_pandas_nor_scipy_stats():
    code = (
        "import sys; from validate.stats import descriptive, design, horwitz, outliers, precision, trueness, variances;"
        "print([m for m in ('pandas', 'scipy.stats', 'statsmodels', 'scipy.integrate') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
