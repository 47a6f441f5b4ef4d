"""Control charts: limits, constants, and where each rule fires."""

from __future__ import annotations

import math

import numpy as np
import pytest

from validate.stats.control import (
    RULES,
    cusum,
    ewma,
    individuals,
    mean_and_range,
    range_constants,
    run_length,
    serial_correlation,
    signals,
)

FACTORS = {
    2: ("1.128", "0.853", "1.880", "0.000", "3.267"),
    3: ("1.693", "0.888", "1.023", "0.000", "2.575"),
    4: ("2.059", "0.880", "0.729", "0.000", "2.282"),
    5: ("2.326", "0.864", "0.577", "0.000", "2.115"),
    7: ("2.704", "0.833", "0.419", "0.076", "1.924"),
    10: ("3.078", "0.797", "0.308", "0.223", "1.777"),
}
"""d2, d3, A2, D3, D4 as tabulated in ISO 7870-2 (from memory; D4 of 3 and 5 is also printed as 2.574 and 2.114)."""


def of(x, *rules):
    return [(signal.rule, signal.at) for signal in signals(x, centre=0, sigma=1, rules=rules)]


@pytest.mark.parametrize("n", FACTORS)
def test_factors_of_ranges_are_the_tabulated_ones(n):
    d2, d3 = range_constants(n)
    found = (d2, d3, 3 / (d2 * math.sqrt(n)), max(0.0, 1 - 3 * d3 / d2), 1 + 3 * d3 / d2)
    assert tuple(f"{value:.3f}" for value in found) == FACTORS[n]


def test_limits_of_individuals_by_hand():
    """10, 12, 11, 13: mean 11.5, moving ranges 2, 1, 2, sigma 1.66667/1.128379 = 1.477045."""
    found = individuals([10.0, 12, 11, 13])
    assert (found.centre, found.sigma) == pytest.approx((11.5, 1.477045), abs=1e-6)
    assert (found.lower, found.upper_warning) == pytest.approx((11.5 - 4.431135, 11.5 + 2.954090), abs=1e-5)
    assert found.moving_range_upper == pytest.approx(3.2665 * 5 / 3, rel=1e-4)


def test_the_base_period_alone_gives_the_limits():
    values = [10.0, 12, 11, 13, 50, 60]
    assert individuals(values, base=[True] * 4 + [False] * 2).upper == individuals(values[:4]).upper


def test_a_moving_range_across_a_gap_in_the_base_does_not_count():
    found = individuals([10.0, 12, 50, 11, 13], base=[True, True, False, True, True])
    assert found.mean_moving_range == pytest.approx(2.0)


def test_given_values_need_no_base():
    found = individuals([9.0, 10, 11], centre=10, sigma=0.5)
    assert (found.lower, found.upper, found.n_base) == (8.5, 11.5, 0)


def test_means_and_ranges_by_hand():
    """Runs (1, 3), (2, 6), (4, 4): means 2, 4, 4, ranges 2, 4, 0, mean range 2."""
    found = mean_and_range([[1.0, 3], [2, 6], [4, 4]], runs_differ=False)
    assert found.centre == pytest.approx(10 / 3) and found.mean_range == 2
    assert found.upper - found.centre == pytest.approx(1.880 * 2, rel=1e-3)
    assert found.range_upper == pytest.approx(3.267 * 2, rel=1e-3)
    assert mean_and_range([[1.0, 3], [2, 6], [4, 4]], runs_differ=True).sigma_mean == pytest.approx(
        1 / 1.128379, rel=1e-6
    )


@pytest.mark.parametrize(
    ("rule", "x", "at"),
    [
        ("beyond limits", [0, 3, 3.01, -3.5], [2, 3]),
        ("run of seven", [1] * 7, [6]),
        ("run of seven", [1] * 3 + [0] + [1] * 6, []),
        ("run of eight", [-1] * 9, [7, 8]),
        ("run of nine", [1] * 8 + [-1] + [1] * 9, [17]),
        ("trend of six", [0, 1, 2, 3, 4, 5], [5]),
        ("trend of six", [0, 1, 2, 2, 3, 4, 5], []),
        ("trend of seven", [5, 4, 3, 2, 1, 0, -1], [6]),
        ("fourteen alternating", [0, 1] * 7, [13]),
        ("fourteen alternating", [0, 1] * 6 + [0, 0], []),
        ("two of three beyond 2 s", [2.1, 0, 2.1], [2]),
        ("two of three beyond 2 s", [2.1, 0, -2.1, 0], []),
        ("two of three beyond 2 s", [2.1, 2.1], []),
        ("four of five beyond 1 s", [1.1, 1.1, 0, 1.1, 1.1], [4]),
        ("four of five beyond 1 s", [1.1, 1.1, 1.1, 1.1, 0], []),
        ("fifteen within 1 s", [0.5, -0.5] * 7 + [0.9], [14]),
        ("eight outside 1 s", [1.1, -1.1] * 4, [7]),
    ],
)
def test_each_rule_fires_where_its_pattern_is_complete_and_nowhere_else(rule, x, at):
    assert of(x, rule) == [(rule, each) for each in at]


def test_signals_come_in_the_order_of_the_points_and_name_where_they_begin():
    found = signals([1] * 6 + [4], centre=0, sigma=1, rules=["run of seven", "beyond limits"])
    assert [(s.rule, s.first, s.at, s.side) for s in found] == [("run of seven", 0, 6, 1), ("beyond limits", 6, 6, 1)]


def test_the_centre_and_sigma_scale_every_rule():
    rng = np.random.default_rng(2)
    u = rng.normal(0.5, 1.2, 400)
    there = signals(100 + 3 * u, centre=100, sigma=3, rules=list(RULES))
    assert there == signals(u, centre=0, sigma=1, rules=list(RULES)) and there


def test_a_mirrored_series_gives_the_same_signals_on_the_other_side():
    u = np.random.default_rng(3).normal(0.3, 1.2, 400)
    there, back = (signals(sign * u, centre=0, sigma=1, rules=list(RULES)) for sign in (1, -1))
    assert [(s.rule, s.at, s.side) for s in there] == [(s.rule, s.at, -s.side) for s in back]


def test_ewma_is_its_weighted_sum_and_its_limits_widen_to_the_settled_ones():
    x = np.random.default_rng(4).normal(5, 2, 30)
    found = ewma(x, centre=5, sigma=2, weight=0.2, width=3)
    weights = 0.2 * 0.8 ** np.arange(29, -1, -1)
    assert found.z[-1] == pytest.approx(float(weights @ x) + 0.8**30 * 5, rel=1e-12)
    assert found.upper[0] == pytest.approx(5 + 3 * 2 * 0.2)
    assert found.upper[-1] == pytest.approx(
        ewma(x, centre=5, sigma=2, weight=0.2, width=3, settled=True).upper[0], rel=1e-5
    )


def test_ewma_of_weight_one_is_the_chart_of_single_values():
    x = np.random.default_rng(5).normal(0, 1.5, 200)
    single = [signal.at for signal in signals(x, centre=0, sigma=1, rules=["beyond limits"])]
    assert list(ewma(x, centre=0, sigma=1, weight=1, width=3).signals) == single


def test_cusum_names_where_the_shift_began():
    x = [0.2, -0.3, 0.1, 2, 2, 2, 2]
    found = cusum(x, centre=0, sigma=1, allowance=0.5, decision=4)
    assert (found.signals[0], found.starts[0]) == (5, 3)
    assert found.above[5] == pytest.approx(4.5) and found.below[5] == 0


def test_cusum_looks_to_both_sides():
    assert cusum([-2.0] * 4, centre=0, sigma=1, allowance=0.5, decision=4).signals == (2, 3)


def test_serial_correlation_is_the_regression_of_each_value_on_the_one_before():
    """For a long series of x_i = 0.6·x_(i−1) + e it is 0.6; of independent values 0 within 3/√n."""
    rng = np.random.default_rng(6)
    errors, x = rng.normal(size=40_000), [0.0]
    for e in errors:
        x.append(0.6 * x[-1] + e)
    assert serial_correlation(x) == pytest.approx(0.6, abs=0.015)
    assert abs(serial_correlation(errors)) < 3 / 200


@pytest.mark.parametrize(
    ("work", "why"),
    [
        (lambda: individuals([1.0]), "at least 2"),
        (lambda: individuals([1.0, 1, 1]), "never change"),
        (lambda: individuals([1.0, 2, 3], base=[True, False, True]), "two values in a row"),
        (lambda: individuals([1.0, 2, 3], base=[True, False]), "each of the 3"),
        (lambda: individuals([1.0, 2, 3], base=[True, False, False]), "base period of 1"),
        (lambda: mean_and_range([1.0, 2, 3], runs_differ=True), "2 runs or more"),
        (lambda: mean_and_range([[1.0, 2], [3, math.nan]], runs_differ=True), "missing"),
        (lambda: signals([1.0], centre=0, sigma=1, rules=["beyond the moon"]), "unknown rule: beyond the moon"),
        (lambda: signals([1.0], centre=0, sigma=0, rules=["beyond limits"]), "sigma must be above 0"),
        (lambda: ewma([1.0], centre=0, sigma=1, weight=1.5, width=3), "between 0 and 1"),
        (lambda: cusum([1.0], centre=0, sigma=1, allowance=-1, decision=5), "must not be below 0"),
        (lambda: run_length([]), "a rule and 2 sets"),
        (lambda: serial_correlation([1.0, 2]), "at least 3"),
        (lambda: serial_correlation([1.0, 1, 1]), "never change"),
        (lambda: range_constants(26), "2 to 25"),
    ],
)
def test_what_makes_no_chart_is_refused_with_its_reason(work, why):
    with pytest.raises(ValueError, match=why):
        work()
