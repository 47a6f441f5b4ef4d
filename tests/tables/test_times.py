"""A time is read in ISO form with its date; any other form is told with what it could mean."""

from __future__ import annotations

import pytest

from validate.tables.table import Column
from validate.tables.times import read_time_cell
from validate.vocabulary.evaluation import Exclusion

TIMES = (
    Column(role="run", title="run", type="label"),
    Column(role="calibrated", title="calibration", type="time", censored=True),
)


@pytest.mark.parametrize(
    ("cell", "kept"),
    [
        ("2031-03-10 08:22", "2031-03-10T08:22:00"),
        ("2031-03-10T08:22:05", "2031-03-10T08:22:05"),
        ("2031-03-10 8:22", "2031-03-10T08:22:00"),
        ("2031-03-10 08:22:05.25", "2031-03-10T08:22:05.25"),
        ("2031-03-10T08:22Z", "2031-03-10T08:22:00+00:00"),
        ("2031-03-10 08:22 +0530", "2031-03-10T08:22:00+05:30"),
        ("2031-03-10 08:22-03", "2031-03-10T08:22:00-03:00"),
        ("2031-03-10", "2031-03-10"),
    ],
)
def test_a_time_has_one_spelling(cell, kept):
    assert read_time_cell(cell) == (kept, "", "", {})


@pytest.mark.parametrize(
    ("cell", "code"),
    [
        ("08:22", "cell-time-without-date"),
        ("8:22 pm", "cell-time-without-date"),
        ("2031-03-10 24:00", "cell-time-impossible"),
        ("2031-03-10 08:60", "cell-time-impossible"),
        ("2031-03-10 08:22+15:00", "cell-time-impossible"),
        ("2031-02-29 08:22", "cell-date-impossible"),
        ("03/04/2031 08:22", "cell-date-ambiguous"),
        ("47915.35", "cell-date-serial"),
        ("10 March 2031, 08:22", "cell-time-form"),
        ("2031-03-10 08:22 pm", "cell-time-form"),
        ("morning", "cell-time-form"),
        ("2" * 500, "cell-time-form"),
        ("", "cell-empty"),
    ],
)
def test_what_is_no_time_is_told_as_what_it_is(cell, code):
    assert read_time_cell(cell).code == code


def test_a_time_that_may_be_missing_is_empty_text(read):
    table = read(b"run,calibrated\nA,2031-03-10 08:22\nB,\n", asked=TIMES).reported
    assert table.frame["calibrated"].to_dict() == {2: "2031-03-10T08:22:00", 3: ""}


def test_a_time_that_cannot_be_read_is_told_at_its_cell(read):
    [problem] = read(b"run,calibrated\nA,10.03.2031 08:22\n", asked=TIMES).problems
    assert (problem.code, str(problem.place)) == ("cell-date-ambiguous", "protocols/invented/r.csv:2:2")


def test_rows_left_out_by_a_rule_stand_beside_the_exclusions_of_the_protocol(read):
    reading = read(b"sample,added,found\nA,5,4.9\nB,5,5.0\nC,5,5.1\n", exclusions=[{"where": {"sample": "A"}}])
    rule = Exclusion(file="r.csv", where={"run": "R-1"}, by="rule", on="2031-03-09", reason="not ready", rows="3")
    further = reading.leaving_out([(rule, [3])])
    assert further.reported.frame.index.tolist() == [4]
    assert further.recorded.frame.index.tolist() == [2, 3, 4]
    assert further.lifting(0).frame.index.tolist() == [2, 4]
    assert further.lifting(1).frame.index.tolist() == [3, 4]
    assert [e.reason for e in further.exclusions] == ["invented", "not ready"]
