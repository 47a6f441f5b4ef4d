"""Numbers are rounded once, half to even, to the place that the uncertainty asks for."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.dossier import numbers
from validate.dossier.numbers import (
    alone,
    beside_interval,
    calculator,
    column,
    percent_of_one,
    place_of,
    plain,
    rounded,
    significant,
    whole,
)


def test_value_and_uncertainty_as_the_guide_prints_them() -> None:
    """JCGM 100:2008, 7.2.6 (from memory): y = 10.057 62 Ω with u = 27 mΩ is given as 10.058 Ω."""
    assert plain(rounded(10.05762, place_of(0.027))) == "10.058"


@pytest.mark.parametrize(
    ("value", "place", "text"),
    [
        (0.25, -1, "0.2"),
        (0.35, -1, "0.4"),
        (2.675, -2, "2.68"),
        (2.665, -2, "2.66"),
        (-0.25, -1, "−0.2"),
        (25, 1, "20"),
    ],
)
def test_halfway_goes_to_the_even_digit_as_printed(value: float, place: int, text: str) -> None:
    """ISO 80000-1, rule A (from memory); 2.675 is halfway though its double lies below."""
    assert f"{rounded(value, place):f}".replace("-", "−") == text


@pytest.mark.parametrize(("u", "place"), [(0.0996, -2), (0.0994, -3), (1.0, -1), (12.0, 0), (995.0, 2), (994.0, 1)])
def test_two_digits_of_an_uncertainty_that_rounds_up_to_a_new_power_of_ten(u: float, place: int) -> None:
    assert place_of(u) == place


def test_zero_has_no_significant_digits() -> None:
    with pytest.raises(ValueError, match="zero"):
        place_of(0.0)


def test_limits_stand_to_the_same_place_as_the_value() -> None:
    assert beside_interval(91.254, 83.41, 99.12) == ("91.3", "83.4", "99.1")
    assert beside_interval(0.30216, 0.2991, 0.3052) == ("0.3022", "0.2991", "0.3052")


def test_a_wide_interval_leaves_the_value_two_digits() -> None:
    assert beside_interval(12.3, 4.0, 900.0)[0] == "12"


def test_an_open_interval_takes_its_one_distance() -> None:
    assert beside_interval(91.254, 83.41, None) == ("91.3", "83.4", "")
    assert beside_interval(5.0, None, None) == ("5.000", "", "")


def test_rounding_never_carries_a_value_over_a_bound() -> None:
    """20.04 against at most 20 must not be printed as 20 beside `not met`."""
    assert beside_interval(20.04, 10.0, 60.0, [None, 20.0])[0] == "20.04"
    assert beside_interval(20.0, 10.0, 60.0, [None, 20.0])[0] == "20"
    assert alone(19.996, [20.0]) == "19.996"


@given(st.floats(-1e12, 1e12), st.floats(-1e12, 1e12), st.floats(1e-6, 1e6))
def test_a_printed_value_is_on_its_own_side_of_every_bound(value: float, bound: float, width: float) -> None:
    text = beside_interval(value, value - width, value + width, [bound])[0]
    shown = number(text)
    if abs(value - bound) > 1e-12 * max(abs(value), 1.0):
        assert math.copysign(1, shown - bound) == math.copysign(1, value - bound) or shown == bound == value


def test_thousands_are_set_apart_by_a_narrow_space_and_minus_is_a_minus() -> None:
    assert significant(-1234567.8) == "−1\u202f234\u202f568"
    assert significant(1234.0) == "1234"
    assert "\u202f" not in calculator(1234567.0)


def test_very_large_and_small_numbers_are_powers_of_ten() -> None:
    assert significant(0.0000123) == "1.230\u00a0×\u00a010⁻⁵"
    assert significant(2.5e12) == "2.500\u00a0×\u00a010¹²"


def test_negative_zero_is_zero() -> None:
    assert plain(rounded(-0.001, -1)) == "0.0"
    assert significant(-0.0) == "0"


def test_a_column_of_like_size_is_rounded_to_one_place() -> None:
    assert column([4.5671, 12.345, None, 0.5]) == ["4.57", "12.34", "–", "0.50"]
    assert column([4.5671, 12345.678]) == ["4.567", "12\u202f346"]
    assert column([2.0, 3.0]) == ["2", "3"]


def test_counts_and_degrees_of_freedom() -> None:
    assert (whole(6), whole(5.0), whole(4.26), whole(None)) == ("6", "5", "4.3", "–")


@pytest.mark.parametrize(
    ("p", "text"), [(0.5833, "58"), (0.0, "0"), (1.0, "100"), (0.004, "below 1"), (0.9962, "above 99"), (0.125, "12")]
)
def test_a_chance_is_never_printed_as_certain_unless_it_is(p: float, text: str) -> None:
    assert percent_of_one(p).replace(numbers.NO_BREAK_SPACE, " ") == f"{text} %"


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e200, max_value=1e200))
def test_seven_digits_give_the_value_back_to_half_a_digit(value: float) -> None:
    assert number(calculator(value)) == pytest.approx(value, rel=5.1e-7, abs=0)


def number(text: str) -> float:
    """A printed number read back."""
    plain_text = text.replace("−", "-").replace("\u202f", "").replace("\u00a0", "")
    mantissa, _, exponent = plain_text.partition("×10")
    raised = exponent.translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789"))
    return float(f"{mantissa}e{raised or 0}")


def test_a_count_whose_limits_are_the_count_itself_is_a_whole_number():
    assert beside_interval(23.0, 23.0, 23.0) == ("23", "23", "23")
