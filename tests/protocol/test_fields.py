"""Types of values: what is read, as what, and what is refused."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.protocol.fields import (
    level_text,
    read_count,
    read_date,
    read_level,
    read_number,
    read_positive_count,
    read_relative_path,
)


@pytest.mark.parametrize(
    ("text", "level"),
    [("5", "5"), ("5.0", "5"), ("05", "5"), ("0.50", "0.5"), (".5", "0.5"), ("1e1", "10"), ("1e-3", "0.001"), 
     ("-0", "0"), ("0.0", "0"), (" 100 ", "100"), ("12.50", "12.5")],
)  # fmt: skip
def test_a_level_has_one_spelling(text, level):
    assert level_text(text) == read_level(text) == level


@given(st.just(0.0) | st.floats(min_value=1e-30, max_value=1e30))
def test_the_spelling_of_a_level_keeps_its_value(value):
    assert float(level_text(repr(value))) == value


@pytest.mark.parametrize(
    "text",
    [
        "-1",
        "five",
        "",
        "1,5",
        "NaN",
        "inf",
        "1e999",
        "1e31",
        "1e-31",
        "1_000",
        "0x10",
        "٣",
        "1 2",
        "9" * 41,
        None,
        ["1"],
    ],
)
def test_what_is_no_level_is_refused(text):
    with pytest.raises(ValueError, match="expected"):
        read_level(text)


@given(st.text(max_size=60))
def test_any_text_is_a_finite_number_or_refused(text):
    try:
        value = read_number(text)
    except ValueError:
        return
    assert value == value and abs(value) != float("inf")


def test_dates_are_days_of_the_calendar():
    assert read_date("2032-02-29") == dt.date(2032, 2, 29)
    for text in ("2031-02-29", "2031-2-9", "20310309", "09.03.2031", "2031-03-09T10:00", "today"):
        with pytest.raises(ValueError, match="a date such as"):
            read_date(text)


def test_counts_are_whole_numbers():
    assert read_count(" 12 ") == 12
    for text in ("-1", "1.0", "1e3", "", "1234567", "٣"):
        with pytest.raises(ValueError, match="whole number"):
            read_count(text)


def test_what_is_planned_is_one_or_more():
    assert read_count("0") == 0 and read_positive_count("1") == 1
    with pytest.raises(ValueError, match="1 or more"):
        read_positive_count("0")


@pytest.mark.parametrize("text", ["a.csv", "data/a b.csv", "größe.csv", "...csv"])
def test_a_file_below_the_folder_is_named_with_forward_slashes(text):
    assert read_relative_path(text) == text


@pytest.mark.parametrize(
    "text",
    [
        "",
        "/etc/passwd",
        "../a.csv",
        "a/../../b",
        "a//b",
        "./a",
        "C:\\a.csv",
        "C:a",
        "a\\b",
        "a\x00b",
        "a\nb",
        "x" * 201,
        None,
    ],
)
def test_a_path_that_could_lead_outside_is_refused(text):
    with pytest.raises(ValueError, match="inside the protocol's folder"):
        read_relative_path(text)
