"""Unlike units and changed materials: published factors, both rules, and refusals."""

from __future__ import annotations

import math

import numpy as np
import pytest

from validate.stats import homogeneity, intervals
from validate.stats.calibration_line import line

FIRST = [10.1, 10.3, 9.9, 10.2, 10.0, 10.4, 9.8, 10.1, 10.2, 10.0]
SECOND = [10.2, 10.1, 10.1, 10.0, 10.1, 10.1, 9.9, 10.3, 10.0, 10.2]


@pytest.mark.parametrize(("units", "f1", "f2"), [
    (20, "1.59", "0.57"),
    (19, "1.60", "0.59"),
    (18, "1.62", "0.62"),
    (17, "1.64", "0.64"),
    (16, "1.67", "0.68"),
    (15, "1.69", "0.71"),
    (14, "1.72", "0.75"),
    (13, "1.75", "0.80"),
    (12, "1.79", "0.86"),
    (11, "1.83", "0.93"),
    (10, "1.88", "1.01"), (9, "1.94", "1.11"), (8, "2.01", "1.25"), (7, "2.10", "1.43")
])  # fmt: skip
def test_factors_are_the_printed_ones(units: int, f1: str, f2: str) -> None:
    """IUPAC Harmonized Protocol (2006), Appendix 1, Table 2 (from memory)."""
    found = homogeneity.iupac_factors(units)
    assert found[0] == pytest.approx(float(f1), abs=0.00501) and found[1] == pytest.approx(float(f2), abs=0.00501)


def test_duplicates_give_the_sums_of_the_harmonized_protocol() -> None:
    """By hand: ΣD² = 0.36, so s_an² = 0.018; variance of the ten unit means 0.12/9."""
    found = homogeneity.assess(FIRST, SECOND, 0.5)
    assert found.s_an == pytest.approx(math.sqrt(0.36 / 20), rel=1e-12)
    assert found.variance_sam_raw == pytest.approx(0.12 / 9 - 0.018 / 2, rel=1e-12)
    assert found.cochran_c == pytest.approx(0.09 / 0.36, rel=1e-12) and found.cochran_index == 5
    f1, f2 = homogeneity.iupac_factors(10)
    assert found.iupac_critical**2 == pytest.approx(f1 * 0.15**2 + f2 * 0.018, rel=1e-12)
    assert found.iso_critical == pytest.approx(0.15)


@pytest.mark.parametrize(("p", "one", "five"), [(10, "0.718", "0.602"), (12, "0.653", "0.541"), (20, "0.480", "0.389")])
def test_cochran_points_of_pairs_are_the_printed_ones(p: int, one: str, five: str) -> None:
    """IUPAC Harmonized Protocol (2006), Appendix 1; ISO 5725-2:1994, Table 4 (from memory)."""
    found = homogeneity.assess([1.0] * p, [1.1] * p, 1.0)
    assert (found.cochran_critical, found.cochran_critical_5) == pytest.approx((float(one), float(five)), abs=0.0006)


def test_any_number_of_replicates_is_one_way_analysis_of_variance() -> None:
    values, units = [1.0, 1.2, 1.1, 1.4, 1.5, 1.3, 0.9, 1.0, 1.1], [*"AAABBBCCC"]
    found = homogeneity.assess_units(values, units, 1.0)
    assert found.s_an == pytest.approx(math.sqrt((0.02 + 0.02 + 0.02) / 6), rel=1e-12)
    means_variance = np.var([1.1, 1.4, 1.0], ddof=1)
    assert found.variance_sam_raw == pytest.approx(means_variance - 0.01 / 3, rel=1e-12)
    assert found.n_units == 3 and found.n == 9


def test_the_limit_of_more_replicates_rests_on_their_number_and_their_degrees_of_freedom() -> None:
    """F(0.95; 2, 6) = 5.1433 and χ²(0.95; 2) = 5.9915 from tables: F₁ = 2.9957, F₂ = (5.1433 − 1)/3 = 1.3811."""
    found = homogeneity.assess_units([1.0, 1.2, 1.1, 1.4, 1.5, 1.3, 0.9, 1.0, 1.1], [*"AAABBBCCC"], 1.0)
    assert (found.f1, found.f2) == pytest.approx((2.9957, 1.3811), abs=1e-4)
    assert found.iupac_critical**2 == pytest.approx(2.9957 * 0.09 + 1.3811 * 0.01, abs=1e-5)


def test_cochran_takes_the_most_frequent_number_of_replicates() -> None:
    """Four units, three of them in duplicate: the 1 % point of four variances of two, 0.9676."""
    found = homogeneity.assess_units([1.0, 1.1, 2.0, 2.2, 1.5, 1.4, 1.8, 1.9, 1.7], [*"AABBCCDDD"], 1.0)
    assert found.cochran_critical == pytest.approx(0.9676, abs=5e-5)


def test_units_that_scatter_less_than_their_replicates_have_no_scatter_of_their_own() -> None:
    found = homogeneity.assess([1.0, 1.2, 1.0, 1.2], [1.2, 1.0, 1.2, 1.0], 1.0)
    assert found.s_sam == 0 and found.variance_sam_raw < 0
    assert found.u_hidden == pytest.approx(found.s_an / math.sqrt(2) * (2 / 4) ** 0.25)


def test_a_unit_with_a_wide_pair_is_pointed_at() -> None:
    wide = [*SECOND[:3], 12.0, *SECOND[4:]]
    found = homogeneity.assess(FIRST, wide, 0.5)
    assert found.cochran_index == 3 and found.cochran_c > found.cochran_critical


def test_pairs_that_all_agree_leave_nothing_to_test() -> None:
    found = homogeneity.assess([1.0, 2.0, 3.0], [1.0, 2.0, 3.0], 10.0)
    assert found.cochran_c is None and "equal" in found.cochran_reason
    assert found.s_sam == pytest.approx(1.0) and found.iso_met


def test_a_shift_and_a_scale_carry_through() -> None:
    one = homogeneity.assess(FIRST, SECOND, 0.5)
    two = homogeneity.assess([3 * x + 40 for x in FIRST], [3 * x + 40 for x in SECOND], 1.5)
    assert (two.s_an, two.s_sam, two.iupac_critical) == pytest.approx(
        (3 * one.s_an, 3 * one.s_sam, 3 * one.iupac_critical)
    )
    assert two.cochran_c == pytest.approx(one.cochran_c)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: homogeneity.assess([1.0], [1.1], 1.0), "at least 2"),
        (lambda: homogeneity.assess([1.0, 2.0], [1.1, 2.0, 3.0], 1.0), "every unit needs one of each"),
        (lambda: homogeneity.assess([1.0, math.nan], [1.1, 2.0], 1.0), "without a number"),
        (lambda: homogeneity.assess(FIRST, SECOND, 0.0), "σ_pt must be above 0"),
        (lambda: homogeneity.assess_units([1.0, 2.0, 3.0], [*"ABC"], 1.0), "no group has a second result"),
        (lambda: homogeneity.stability([1.0], [1.0, 1.1], 1.0), "at least 2"),
        (lambda: homogeneity.stability([1.0, 1.1], [1.0, 1.1], -1.0), "σ_pt must be above 0"),
        (lambda: homogeneity.stability_trend([0, 1], [1.0, 1.1], 1.0, period=5), "at least 3"),
        (lambda: homogeneity.stability_trend([1, 1, 1], [1.0, 1.1, 1.2], 1.0, period=5), "at one time"),
        (lambda: homogeneity.stability_trend([0, 1, 2], [1.0, 1.0, 1.0], 1.0, period=5), "on one line"),
    ],
)
def test_what_cannot_be_assessed_is_refused_with_the_reason(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()


def test_stability_is_the_difference_of_two_means_with_its_welch_interval() -> None:
    """By hand: means 10.1 and 9.9, variances 0.01 and 0.04, three each: u² = 0.05/3, ν = 2·0.05²/(0.01² + 0.04²)."""
    found = homogeneity.stability([10.0, 10.1, 10.2], [9.7, 9.9, 10.1], 1.0)
    df = 2 * 0.05**2 / (0.01**2 + 0.04**2)
    half = intervals.t_quantile(0.95, df) * math.sqrt(0.05 / 3)
    assert (found.difference, found.df, found.u) == pytest.approx((0.2, df, math.sqrt(0.05 / 3)))
    assert (found.low, found.high) == pytest.approx((0.2 - half, 0.2 + half))
    assert found.widened_limit == pytest.approx(0.3 + 2 * found.u)


def test_the_widened_rule_passes_a_change_that_a_worse_method_cannot_see() -> None:
    good = homogeneity.stability([10.0, 10.02, 9.98], [10.4, 10.42, 10.38], 1.0)
    bad = homogeneity.stability([9.5, 10.0, 10.5], [9.9, 10.4, 10.9], 1.0)
    assert (good.point_met, bad.point_met) == (False, False)
    assert (good.widened_met, bad.widened_met) == (False, True)


def test_occasions_without_any_scatter_have_no_interval_and_say_why() -> None:
    found = homogeneity.stability([5.0, 5.0], [5.1, 5.1], 1.0)
    assert found.low is None and "scatter is unknown" in found.reason and found.point_met


def test_change_over_several_occasions_is_that_of_the_line() -> None:
    time, means = [0, 10, 20, 30, 40], [5.0, 5.1, 4.9, 5.0, 4.8]
    found = homogeneity.stability_trend(time, means, 1.0, period=60)
    fit = line(time, means, level=0.90)
    assert found.change == pytest.approx(60 * fit.slope)
    assert (found.low, found.high) == pytest.approx((60 * fit.slope_limits.low, 60 * fit.slope_limits.high))
    assert found.u_stability == pytest.approx(60 * fit.se_slope)
