"""Limits of agreement, bias at a level, and classification at a limit."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import integrate, stats

from validate.stats.comparison import bias_at, bland_altman, classification, deming, passing_bablok

PEAK_FLOW = Path(__file__).parents[2] / "protocols" / "peak-flow" / "first.csv"
LONG = PEAK_FLOW.with_name("both.csv")


@pytest.fixture(scope="module")
def first() -> pd.DataFrame:
    return pd.read_csv(PEAK_FLOW)


@pytest.fixture(scope="module")
def both() -> pd.DataFrame:
    return pd.read_csv(LONG)


def test_published_limits_of_agreement_of_peak_flow(first):
    """Bland and Altman 1986: −2.1, 38.8, −79.7 to 75.5 (with s rounded: 0.05 and 0.09 off), −22.0 to 17.8."""
    found = bland_altman(first["mini"], first["wright"], printed=True)
    assert (f"{found.bias:.1f}", f"{found.sd:.1f}") == ("-2.1", "38.8")
    assert (f"{found.bias_limits.low:.1f}", f"{found.bias_limits.high:.1f}") == ("-22.0", "17.8")
    for limit, printed in ((found.lower, -79.7), (found.upper, 75.5)):
        assert abs(limit - printed) <= 0.1
    # From the rounded figures that the paper prints, as the paper computes.
    assert (f"{-2.1 - 2 * 38.8:.1f}", f"{-2.1 + 2 * 38.8:.1f}") == ("-79.7", "75.5")


def test_published_limits_of_the_limits_of_agreement(first):
    """Printed −114.3 to −45.1 and 40.9 to 110.1; from rounded d̄, s, s√(3/n) and t, hence up to 0.2 off."""
    found = bland_altman(first["mini"], first["wright"], printed=True)
    ends = (found.lower_limits.low, found.lower_limits.high, found.upper_limits.low, found.upper_limits.high)
    assert ends == pytest.approx((-114.3, -45.1, 40.9, 110.1), abs=0.2)
    # 2.12 · 16.3 = 34.6, as the paper multiplies.
    assert [f"{limit + sign * 34.6:.1f}" for limit in (-79.7, 75.5) for sign in (-1, 1)] == [
        "-114.3", "-45.1", "40.9", "110.1",
    ]  # fmt: skip


def test_published_standard_deviation_corrected_for_two_readings_each(both):
    """Bland and Altman 1986 (from memory): means of two scatter with 33.2, corrected 37.7.

    The paper takes s_w from differences about 0 (21.6/√2, 28.2/√2), this function about the pairs' mean: the same.
    """
    found = bland_altman(both["mini"], both["wright"], samples_x=both["subject"], samples_y=both["subject"])
    assert (f"{found.sd_of_means:.1f}", f"{found.sd:.1f}") == ("33.2", "37.7")


def test_published_repeatability_of_both_meters(both):
    """Printed 21.6 and 28.2: SD of the differences of two readings, the mean difference taken as 0."""
    found = bland_altman(both["mini"], both["wright"], samples_x=both["subject"], samples_y=both["subject"])
    assert f"{math.sqrt(2) * found.s_within_y:.1f}" == "21.6"
    assert f"{math.sqrt(2) * found.s_within_x:.1f}" == "28.2"


def test_the_error_of_a_limit_is_that_of_its_parts():
    rng = np.random.default_rng(3)
    x = rng.normal(50, 10, 25)
    found = bland_altman(x, x + rng.normal(1, 2, 25))
    assert found.se_limit == pytest.approx(found.sd * math.sqrt(1 / 25 + 1.96**2 / 48), rel=1e-12)


def test_exact_limits_of_a_limit_are_those_of_one_sided_tolerance_factors():
    """By definition: the chance that x̄ + k·s lies above mean + 1.96·σ is 95 %, integrated over s."""
    differences = np.array([3.0, -1, 2, 0.5, 4, 1, -2, 2.5, 0, 1.5])
    found = bland_altman(np.zeros(10), differences, exact=True, level=0.90)
    k = (found.upper_limits.high - found.bias) / found.sd

    def covered(s):
        return stats.norm.cdf((k * s - 1.96) * math.sqrt(10)) * stats.chi.pdf(3 * s, 9) * 3

    assert integrate.quad(covered, 0, 5)[0] == pytest.approx(0.95, abs=1e-9)
    assert found.lower_limits.high - found.bias == pytest.approx(found.bias - found.upper_limits.low, rel=1e-12)


def test_the_ratio_form_is_the_difference_form_of_logarithms():
    x, y = np.array([1.0, 2, 5, 10, 20]), np.array([1.1, 2.1, 4.7, 11, 19])
    ratio, logs = bland_altman(x, y, ratio=True), bland_altman(np.log(x), np.log(y))
    for name in ("bias", "lower", "upper"):
        assert getattr(ratio, name) == pytest.approx(math.exp(getattr(logs, name)), rel=1e-12)
    assert ratio.upper_limits.high == pytest.approx(math.exp(logs.upper_limits.high), rel=1e-12)


def test_one_reading_of_each_sample_needs_no_correction():
    x, y, names = [1.0, 2, 3, 4], [1.5, 2, 3.5, 4], list("abcd")
    plain, named = bland_altman(x, y), bland_altman(x, y, samples_x=names, samples_y=names)
    assert (plain.sd, plain.lower, plain.se_limit) == (named.sd, named.lower, named.se_limit)


def test_replicates_of_unequal_number_are_weighted_by_the_mean_of_one_over_m():
    """By hand: means 2, 4, 6 against 2.5, 4, 6.5; two samples of x in duplicate (s_w² = 2, two df)."""
    x, names = [1.0, 3, 3, 5, 6], ["a", "a", "b", "b", "c"]
    found = bland_altman(x, [6.5, 2.5, 4.0], samples_x=names, samples_y=["c", "a", "b"])
    assert found.sd == pytest.approx(math.sqrt(1 / 12 + (1 - (0.5 + 0.5 + 1) / 3) * 2), rel=1e-12)


def test_bias_at_the_mean_of_deming_is_the_mean_difference():
    rng = np.random.default_rng(9)
    x = rng.uniform(5, 50, 30)
    y = 1.05 * x + rng.normal(0, 1, 30)
    found = bias_at(deming(x, y, variance_ratio=1), float(x.mean()), x=x)
    assert found.bias == pytest.approx(float(np.mean(y - x)), rel=1e-9)


def test_the_error_of_the_bias_is_that_of_leaving_one_sample_out_at_a_time():
    rng = np.random.default_rng(10)
    x = rng.uniform(5, 50, 20)
    y = 1.05 * x + rng.normal(0, 1, 20)
    left = []
    for i in range(20):
        keep = np.arange(20) != i
        fit = deming(x[keep], y[keep], variance_ratio=2)
        left.append(fit.intercept + (fit.slope - 1) * 12)
    wanted = math.sqrt(19 / 20 * np.sum((np.array(left) - np.mean(left)) ** 2))
    assert bias_at(deming(x, y, variance_ratio=2), 12, x=x).se == pytest.approx(wanted, rel=1e-9)


def test_a_level_outside_the_samples_is_marked():
    x = np.arange(1.0, 31)
    fit = deming(x, x + np.tile([0.2, -0.2], 15), variance_ratio=1)
    assert [bias_at(fit, at, x=x).extrapolated for at in (0.5, 1, 30, 31)] == [True, False, False, True]


def test_the_bias_by_ranks_lies_within_its_limits_for_few_and_for_many_samples():
    rng = np.random.default_rng(12)
    for n in (40, 150):
        x = rng.uniform(5, 50, n)
        y = 1.1 * x + rng.normal(0, 1, n)
        found = bias_at(passing_bablok(x, y), 20, x=x)
        assert found.limits.low < found.bias < found.limits.high
        assert found.limits.high - found.limits.low < 2


def test_a_result_at_the_limit_is_not_above_it():
    found = classification([5.0, 5.1, 4.0], [5.0, 4.9, 5.2], 5.0)
    assert (found.both_above, found.only_test, found.only_reference, found.neither) == (0, 1, 1, 1)


def test_a_share_of_no_samples_is_none():
    assert classification([1.0, 2], [1.0, 3], 5.0).of_above is None


def test_what_cannot_be_compared_is_refused():
    with pytest.raises(ValueError, match="one of each"):
        bland_altman([1.0, 2, 3], [1.0, 2, 3, 4])
    with pytest.raises(ValueError, match="not above 0"):
        bland_altman([0.0, 2, 3], [1.0, 2, 3], ratio=True)
    with pytest.raises(ValueError, match="by one method only: c"):
        bland_altman([1.0, 2, 3], [1.0, 2], samples_x="abc", samples_y="ab")
    with pytest.raises(ValueError, match="not the exact ones"):
        bland_altman([1.0, 2, 3], [1.0, 2, 3], printed=True, exact=True)
    with pytest.raises(ValueError, match="of neither"):
        bland_altman([1.0, 2, 3], [1.0, 2, 3], samples_x="abc")
    with pytest.raises(ValueError, match="0 x values found"):
        classification([], [], 1)
