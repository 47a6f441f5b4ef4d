"""NIST certified means and standard deviations, to within one digit of what doubles allow.

The textbook formula (sum of squares minus squared sum over n) fails on Michelso, NumAcc2,
NumAcc3 and NumAcc4, with no more than one correct digit on the last two: values that agree in
their leading digits cancel. `summary` must centre first.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from validate.stats.descriptive import summary

SETS = ("PiDigits", "Lew", "Michelso", "NumAcc1", "NumAcc2", "NumAcc3", "NumAcc4")
NAIVE_FAILS = {"Michelso", "NumAcc2", "NumAcc3", "NumAcc4"}
NAIVE_IS_WORTHLESS = {"NumAcc3", "NumAcc4"}


@pytest.mark.parametrize("name", SETS)
def test_the_mean_has_all_the_digits_of_a_double(name, univariate, digits_agreed):
    texts, certified = univariate(name)
    assert digits_agreed(summary([float(t) for t in texts]).mean, certified["mean"]) >= 14


@pytest.mark.parametrize("name", SETS)
def test_the_standard_deviation_comes_within_one_digit_of_the_attainable(name, univariate, digits_agreed):
    texts, certified = univariate(name)
    obtained = summary([float(t) for t in texts]).sd
    assert digits_agreed(obtained, certified["sd"]) >= certified["attainable_digits"] - 1


@pytest.mark.parametrize("name", SETS)
def test_the_textbook_formula_fails_on_exactly_the_sets_named(name, univariate, digits_agreed):
    texts, certified = univariate(name)
    x = [float(t) for t in texts]
    naive = (sum(v * v for v in x) - sum(x) ** 2 / len(x)) / (len(x) - 1)
    digits = digits_agreed(math.sqrt(max(0.0, naive)), certified["sd"])
    assert (digits < certified["attainable_digits"] - 1) == (name in NAIVE_FAILS), digits
    assert (digits < 3) == (name in NAIVE_IS_WORTHLESS), digits


@pytest.mark.parametrize("name", SETS)
def test_the_data_as_copied_give_the_certified_figures_in_exact_arithmetic(name, univariate, digits_agreed):
    texts, certified = univariate(name)
    x = [Fraction(t) for t in texts]
    mean = sum(x) / len(x)
    variance = sum((v - mean) ** 2 for v in x) / (len(x) - 1)
    assert digits_agreed(float(mean), certified["mean"]) >= 14
    assert digits_agreed(math.sqrt(variance), certified["sd"]) >= 14
