"""NIST certified one-way analyses of variance, to within one digit of what doubles allow.

The textbook formula (sums of squared totals) falls short of that on every set, and has fewer
than three correct digits of F on AtmWtAg, SmLs04, SmLs05, SmLs07 and SmLs08, whose values agree
in their leading digits. `one_way` must centre first.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from validate.stats.precision import one_way

SETS = ("SiRstv", "AtmWtAg", "SmLs01", "SmLs02", "SmLs04", "SmLs05", "SmLs07", "SmLs08")
NAIVE_IS_WORTHLESS = {"AtmWtAg", "SmLs04", "SmLs05", "SmLs07", "SmLs08"}


def _evaluate(groups):
    values = [float(text) for group in groups for text in group]
    labels = [str(i) for i, group in enumerate(groups) for _ in group]
    return one_way(values, labels)


def _sums_of_squares(groups):
    """Between and within groups, centred, in the arithmetic of the values."""
    everything = [v for group in groups for v in group]
    grand = sum(everything) / len(everything)
    means = [sum(group) / len(group) for group in groups]
    between = sum(len(g) * (m - grand) ** 2 for g, m in zip(groups, means, strict=True))
    within = sum((v - m) ** 2 for g, m in zip(groups, means, strict=True) for v in g)
    return between, within


@pytest.mark.parametrize("name", SETS)
def test_degrees_of_freedom_are_the_certified_ones(name, one_way_set):
    groups, certified = one_way_set(name)
    found = _evaluate(groups)
    assert (found.df_between, found.df_within) == (int(certified["df_between"]), int(certified["df_within"]))


@pytest.mark.parametrize("name", SETS)
def test_mean_squares_and_f_come_within_one_digit_of_the_attainable(name, one_way_set, digits_agreed):
    groups, certified = one_way_set(name)
    found = _evaluate(groups)
    least = certified["attainable_digits"] - 1
    assert digits_agreed(found.ms_between / found.ms_within, certified["f"]) >= least
    assert digits_agreed(found.ms_between, certified["ms_between"]) >= least
    assert digits_agreed(found.ms_within, certified["ms_within"]) >= least
    assert digits_agreed(found.s_r, certified["s_r"]) >= least


@pytest.mark.parametrize("name", SETS)
def test_the_textbook_formula_fails_and_is_worthless_on_the_sets_named(name, one_way_set, digits_agreed):
    groups, certified = one_way_set(name)
    x = [[float(text) for text in group] for group in groups]
    count = sum(len(g) for g in x)
    totals = sum(sum(g) ** 2 / len(g) for g in x)
    between = (totals - sum(sum(g) for g in x) ** 2 / count) / (len(x) - 1)
    within = (sum(v * v for g in x for v in g) - totals) / (count - len(x))
    digits = digits_agreed(between / within if within else math.inf, certified["f"])
    assert digits < certified["attainable_digits"] - 1
    assert (digits < 3) == (name in NAIVE_IS_WORTHLESS), digits


@pytest.mark.parametrize("name", SETS)
def test_the_data_as_copied_give_the_certified_figures_in_exact_arithmetic(name, one_way_set, digits_agreed):
    groups, certified = one_way_set(name)
    between, within = _sums_of_squares([[Fraction(text) for text in group] for group in groups])
    f = (between / int(certified["df_between"])) / (within / int(certified["df_within"]))
    assert digits_agreed(float(f), certified["f"]) >= 14


@pytest.mark.parametrize("name", ("AtmWtAg", "SmLs04", "SmLs07"))
def test_attainable_digits_are_what_exact_arithmetic_on_the_doubles_leaves(name, one_way_set, digits_agreed):
    groups, certified = one_way_set(name)
    between, within = _sums_of_squares([[Fraction(float(text)) for text in group] for group in groups])
    f = (between / int(certified["df_between"])) / (within / int(certified["df_within"]))
    assert abs(digits_agreed(float(f), certified["f"]) - certified["attainable_digits"]) < 0.1
