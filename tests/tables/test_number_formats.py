"""What a number format shows: codes and results written by hand after ECMA-376 part 1, 18.8.31 (from memory)."""

from __future__ import annotations

import pytest

from validate.tables.number_format import date_text, number_format


@pytest.mark.parametrize(
    ("code", "kind"),
    [("General", "general"), ("@", "general"), ("0.00", "number"), ("#,##0.0", "number"), ("0.0%", "percent"),
     ("0.00E+00", "number"), ("dd/mm/yyyy", "date"), ("mmm yy", "date"), ("[$-409]d mmm yyyy", "date"),
     ("h:mm", "time"),
     ("[h]:mm:ss", "time"), ("mm:ss.0", "time"), ("h:mm AM/PM", "time"), ('0.0" mg/kg"', "number"),
     ('0 "days"', "number"),
     ("[Red]0.0", "number"), ("_-* #,##0.00_-", "number"), ("[$€-407] #,##0.00", "number"), ("# ?/?", "other"),
     (";;;", "other"), ("0.0,", "other"), ("", "other"), ('"positive"', "other"), ("x" * 300, "other")],
)  # fmt: skip
def test_dates_percentages_and_what_is_no_number_are_told_apart(code, kind):
    assert number_format(code).section(1.0).kind == kind


@pytest.mark.parametrize(
    ("code", "number", "shown"),
    [("0.0", "1.27", "1.3"), ("0.0", "1.25", "1.3"), ("0.0", "-1.25", "-1.3"), ("0", "2.5", "3"),
     ("0.00", "1.3", "1.30"),
     ("#,##0", "1234.5", "1235"), ("0.00E+00", "12345", "12300"), ("0.00E+00", "0.0012345", "0.00123"),
     ("##0.0E+0", "12345", "12300"), ("0.0", "1e-07", "0.0"), ("0", "1e+16", "10000000000000000")],
)  # fmt: skip
def test_shown_digits(code, number, shown):
    section = number_format(code).section(float(number))
    assert f"{section.shown(number):f}" == shown
    assert section.rounds(number) == (float(shown) != float(number))


def test_noise_beyond_fifteen_digits_is_not_called_hidden():
    assert not number_format("0.0").section(0.3).rounds("0.30000000000000004")


def test_sections_are_chosen_by_sign():
    code = number_format('0.00;-0;"zero;none"')
    assert [code.section(v).decimals for v in (1.0, -1.0)] == [2, 0]
    assert code.section(0.0).kind == "other"


@pytest.mark.parametrize(
    ("code", "adds"), [("0", False), ("000", True), ('"R-"0', True), ("0.00", False), ("_-0", False)]
)
def test_formats_that_add_text_or_zeros(code, adds):
    assert number_format(code).section(1.0).adds_text == adds


@pytest.mark.parametrize(
    ("serial", "kind", "from_1904", "text"),
    [(1, "date", False, "1900-01-01"), (61, "date", False, "1900-03-01"), (47915, "date", False, "2031-03-08"),
     (0, "date", True, "1904-01-01"), (47915.5, "date", False, "2031-03-08 12:00"), (0.4375, "time", False, "10:30"),
     (1.5, "time", False, "1900-01-01 12:00"), (-1, "date", False, "########"), (3e6, "date", False, "########"),
     (2_958_464, "date", True, "########")],
)  # fmt: skip
def test_serial_numbers_are_days_of_the_calendar(serial, kind, from_1904, text):
    """1 is 1900-01-01, 61 is 1900-03-01, and 1904 begins at 0: ECMA-376 part 1, 18.17.4.1 (from memory)."""
    assert date_text(serial, kind, from_1904=from_1904) == text
