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

SETS = ("Norris", "NoInt1")
THROUGH_ORIGIN = {"NoInt1"}


def fitted(name, x, y):
    return line([float(v) for v in x], [float(v) for v in y], through_origin=name in THROUGH_ORIGIN)


@pytest.mark.parametrize("name", SETS)
def test_coefficients_come_within_one_digit_of_the_attainable(name, straight_line, digits_agreed):
    x, y, wanted = straight_line(name)
    found, least = fitted(name, x, y), wanted["attainable_digits"] - 1
    assert digits_agreed(found.slope, wanted["slope"]) >= least
    assert "intercept" not in wanted or digits_agreed(found.intercept, wanted["intercept"]) >= least


@pytest.mark.parametrize("name", SETS)
def test_standard_errors_and_residual_scatter_come_within_one_digit_of_the_attainable(
    name, straight_line, digits_agreed
):
    x, y, wanted = straight_line(name)
    found, least = fitted(name, x, y), wanted["attainable_digits"] - 1
    assert found.df == int(wanted["df"])
    assert digits_agreed(found.residual_sd, wanted["residual_sd"]) >= least
    assert digits_agreed(found.se_slope, wanted["se_slope"]) >= least
    assert "se_intercept" not in wanted or digits_agreed(found.se_intercept, wanted["se_intercept"]) >= least


@pytest.mark.parametrize("name", SETS)
def test_r_squared_is_the_certified_one_uncentred_through_the_origin(name, straight_line, digits_agreed):
    x, y, wanted = straight_line(name)
    assert digits_agreed(fitted(name, x, y).r_squared, wanted["r_squared"]) >= wanted["attainable_digits"] - 1


def test_many_lines_in_one_call_come_within_one_digit_on_norris(straight_line, digits_agreed):
    x, y, wanted = straight_line("Norris")
    found = lines([float(v) for v in x], [[float(v) for v in y]])
    least = wanted["attainable_digits"] - 1
    pairs = (
        (found.slope, "slope"),
        (found.intercept, "intercept"),
        (found.se_slope, "se_slope"),
        (found.se_intercept, "se_intercept"),
    )
    assert min(digits_agreed(values[0], wanted[key]) for values, key in pairs) >= least


def test_a_general_solver_and_the_textbook_formula_fall_short_on_norris(straight_line, digits_agreed):
    import numpy as np

    x, y, wanted = straight_line("Norris")
    x, y, n = [float(v) for v in x], [float(v) for v in y], len(x)
    solved = np.linalg.lstsq(np.column_stack([np.ones(n), x]), np.array(y), rcond=None)[0]
    sxx, sxy = sum(v * v for v in x), sum(a * b for a, b in zip(x, y, strict=True))
    slope = (n * sxy - sum(x) * sum(y)) / (n * sxx - sum(x) ** 2)
    naive = (sum(y) - slope * sum(x)) / n
    least = wanted["attainable_digits"] - 1
    assert digits_agreed(float(solved[0]), wanted["intercept"]) < least
    assert digits_agreed(naive, wanted["intercept"]) < least


@pytest.mark.parametrize("name", SETS)
def test_the_data_as_copied_give_the_certified_figures_in_exact_arithmetic(name, straight_line, digits_agreed):
    x, y, wanted = straight_line(name)
    x, y = [Fraction(v) for v in x], [Fraction(v) for v in y]
    origin = name in THROUGH_ORIGIN
    x_mean, y_mean = (0, 0) if origin else (sum(x) / len(x), sum(y) / len(y))
    sxx = sum((v - x_mean) ** 2 for v in x)
    slope = sum((a - x_mean) * (b - y_mean) for a, b in zip(x, y, strict=True)) / sxx
    intercept = y_mean - slope * x_mean
    squares = sum((b - intercept - slope * a) ** 2 for a, b in zip(x, y, strict=True))
    variance = squares / int(wanted["df"])
    assert digits_agreed(float(slope), wanted["slope"]) >= 14
    assert digits_agreed(math.sqrt(variance), wanted["residual_sd"]) >= 14
    assert digits_agreed(math.sqrt(variance / sxx), wanted["se_slope"]) >= 14
