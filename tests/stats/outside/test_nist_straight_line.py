"""NIST certified straight lines, to within one digit of what doubles allow.

Norris: with an intercept; NoInt1: through the origin. On Norris a general least-squares
solver ends two digits short (12.3 of 14.1), and so does the textbook formula with its
differences of large sums: `line` must centre first.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from validate.stats.regression import line, lines

FILE = "certified/straight_line.toml"
SETS = ("Norris", "NoInt1")


@pytest.fixture
def certified(reference):
    def read(name):
        wanted = reference(FILE)[name]
        return wanted["x"].split(), wanted["y"].split(), wanted

    return read


def fitted(x, y, wanted):
    return line([float(v) for v in x], [float(v) for v in y], through_origin=wanted["through_origin"])


@pytest.mark.parametrize("name", SETS)
def test_coefficients_come_within_one_digit_of_the_attainable(name, certified, digits_agreed):
    x, y, wanted = certified(name)
    found, least = fitted(x, y, wanted), wanted["attainable_digits"] - 1
    assert digits_agreed(found.slope, wanted["b1"]) >= least
    assert "b0" not in wanted or digits_agreed(found.intercept, wanted["b0"]) >= least


@pytest.mark.parametrize("name", SETS)
def test_standard_errors_and_residual_scatter_come_within_one_digit_of_the_attainable(name, certified, digits_agreed):
    x, y, wanted = certified(name)
    found, least = fitted(x, y, wanted), wanted["attainable_digits"] - 1
    assert found.df == wanted["df_residual"]
    assert digits_agreed(found.residual_sd, wanted["residual_sd"]) >= least
    assert digits_agreed(found.se_slope, wanted["se_b1"]) >= least
    assert "se_b0" not in wanted or digits_agreed(found.se_intercept, wanted["se_b0"]) >= least


@pytest.mark.parametrize("name", SETS)
def test_r_squared_is_the_certified_one_uncentred_through_the_origin(name, certified, digits_agreed):
    x, y, wanted = certified(name)
    assert digits_agreed(fitted(x, y, wanted).r_squared, wanted["r_squared"]) >= wanted["attainable_digits"] - 1


def test_many_lines_in_one_call_come_within_one_digit_on_norris(certified, digits_agreed):
    x, y, wanted = certified("Norris")
    found = lines([float(v) for v in x], [[float(v) for v in y]])
    least = wanted["attainable_digits"] - 1
    pairs = ((found.slope, "b1"), (found.intercept, "b0"), (found.se_slope, "se_b1"), (found.se_intercept, "se_b0"))
    assert min(digits_agreed(values[0], wanted[key]) for values, key in pairs) >= least


def test_a_general_solver_and_the_textbook_formula_fall_short_on_norris(certified, digits_agreed):
    import numpy as np

    x, y, wanted = certified("Norris")
    x, y, n = [float(v) for v in x], [float(v) for v in y], len(x)
    solved = np.linalg.lstsq(np.column_stack([np.ones(n), x]), np.array(y), rcond=None)[0]
    sxx, sxy = sum(v * v for v in x), sum(a * b for a, b in zip(x, y, strict=True))
    slope = (n * sxy - sum(x) * sum(y)) / (n * sxx - sum(x) ** 2)
    naive = (sum(y) - slope * sum(x)) / n
    least = wanted["attainable_digits"] - 1
    assert digits_agreed(float(solved[0]), wanted["b0"]) < least
    assert digits_agreed(naive, wanted["b0"]) < least


@pytest.mark.parametrize("name", SETS)
def test_the_data_as_copied_give_the_certified_figures_in_exact_arithmetic(name, certified, digits_agreed):
    x, y, wanted = certified(name)
    x, y = [Fraction(v) for v in x], [Fraction(v) for v in y]
    origin = wanted["through_origin"]
    x_mean, y_mean = (0, 0) if origin else (sum(x) / len(x), sum(y) / len(y))
    sxx = sum((v - x_mean) ** 2 for v in x)
    slope = sum((a - x_mean) * (b - y_mean) for a, b in zip(x, y, strict=True)) / sxx
    intercept = y_mean - slope * x_mean
    squares = sum((b - intercept - slope * a) ** 2 for a, b in zip(x, y, strict=True))
    variance = squares / wanted["df_residual"]
    assert digits_agreed(float(slope), wanted["b1"]) >= 14
    assert digits_agreed(math.sqrt(variance), wanted["residual_sd"]) >= 14
    assert digits_agreed(math.sqrt(variance / sxx), wanted["se_b1"]) >= 14
