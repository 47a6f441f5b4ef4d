"""Time zones, daylight saving, and clocks that run backwards.

Changes of the clocks in Vienna in 2030 (rule of the European Union since 1996: last Sundays of March and October at
01:00 UTC): 31 March 02:00 to 03:00, 27 October 03:00 to 02:00.
"""

from __future__ import annotations

import pytest

VIENNA = "{file: runs.csv, time_zone: Europe/Vienna}"
TWELVE = "calibration: {not_older_than: 12 h, source: own}"


def run(judge, calibrated: str, first: str, last: str, *, rules: str = TWELVE, runs: str = VIENNA):
    return judge(rules, f"run,calibrated,first_reading,last_reading\nA,{calibrated},{first},{last}\n", runs=runs)


@pytest.mark.parametrize(
    ("zone", "calibrated", "last", "state"),
    [
        ("Europe/Vienna", "2030-03-30 20:00", "2030-03-31 09:00", "ready"),
        ("Europe/Vienna", "2030-03-30 20:00", "2030-03-31 09:01", "not ready in part"),
        ("UTC", "2030-03-30 20:00", "2030-03-31 09:00", "not ready in part"),
        ("Europe/Vienna", "2030-10-26 20:00", "2030-10-27 07:00", "ready"),
        ("Europe/Vienna", "2030-10-26 20:00", "2030-10-27 07:01", "not ready in part"),
        ("UTC", "2030-10-26 20:00", "2030-10-27 08:00", "ready"),
    ],
)
def test_elapsed_time_runs_through_a_change_of_the_clocks(judge, zone, calibrated, last, state):
    first = calibrated.replace("20:00", "21:00")
    judged = run(judge, calibrated, first, last, runs=f"{{file: runs.csv, time_zone: {zone}}}")
    assert judged.states == {"A": state}


def test_a_time_that_comes_twice_is_told_and_both_are_considered(judge):
    """02:30 was 00:30 or 01:30 UTC; 12 h later it was 13:30 or 14:30 in Vienna, after the change."""
    sure = run(judge, "2030-10-27 02:30", "2030-10-27 09:00", "2030-10-27 13:30")
    assert sure.states == {"A": "ready"}
    assert sure.told("time-repeated").startswith('runs.csv:2:2  "2030-10-27 02:30" in column "calibrated" of run "A"')
    open_one = run(judge, "2030-10-27 02:30", "2030-10-27 14:00", "2030-10-27 14:00")
    assert open_one.states == {"A": "cannot be told"}
    assert open_one.reasons["A"] == "valid until 2030-10-27 13:30 or 2030-10-27 14:30; reading at 2030-10-27 14:00"
    too_late = run(judge, "2030-10-27 02:30", "2030-10-27 14:31", "2030-10-27 15:00")
    assert too_late.states == {"A": "not ready"}


def test_an_offset_says_which_of_the_two_is_meant(judge):
    judged = run(judge, "2030-10-27 02:30+02:00", "2030-10-27 13:31", "2030-10-27 14:00")
    assert judged.states == {"A": "not ready"}
    assert "time-repeated" not in judged.codes


def test_a_time_that_did_not_exist_is_told_and_never_ready(judge):
    judged = run(judge, "2030-03-31 02:30", "2030-03-31 09:00", "2030-03-31 10:00")
    assert judged.states == {"A": "cannot be told"}
    assert judged.told("time-skipped").startswith('runs.csv:2:2  "2030-03-31 02:30" in column "calibrated" of run "A"')
    assert judged.reasons == {"A": "calibrated: 2030-03-31 02:30 did not exist"}


def test_the_last_day_of_use_ends_with_the_local_day(judge):
    """23:30 in Lima is the next day in UTC."""
    log = "run,kit_expires,first_reading,last_reading\nA,2031-03-31,2031-04-01T04:30Z,2031-04-01T04:59Z\n"
    judged = judge("expiry: [kit]", log, runs="{file: runs.csv, time_zone: America/Lima}")
    assert judged.states == {"A": "ready"}


def test_without_a_time_zone_the_clocks_are_taken_to_run_evenly_and_that_is_told(judge):
    judged = run(judge, "2030-10-27 02:30", "2030-10-27 14:00", "2030-10-27 14:30", runs="runs.csv")
    assert judged.states == {"A": "ready"}
    assert "changes of the clocks" in judged.told("no-time-zone")


def test_offsets_without_a_time_zone_are_refused(judge):
    judged = run(judge, "2030-10-27T02:30Z", "2030-10-27 14:00", "2030-10-27 14:30", runs="runs.csv")
    assert judged.result is None
    assert "write the laboratory's time zone" in judged.told("offset-without-zone")


@pytest.mark.parametrize(
    ("columns", "cells", "said"),
    [
        (
            "start,end",
            "2031-03-10 12:00,2031-03-10 11:00",
            "end (2031-03-10 11:00) lies before start (2031-03-10 12:00)",
        ),
        (
            "first_reading,last_reading",
            "2031-03-10 12:00,2031-03-09 13:00",
            "last reading (2031-03-09 13:00) lies before",
        ),
        ("start,first_reading,last_reading", "2031-03-10 09:00,2031-03-10 08:00,2031-03-10 10:00", "first reading"),
    ],
)
def test_a_clock_that_runs_backwards_is_told(judge, columns, cells, said):
    judged = judge("reagent_blank: {at_most: 1, source: own}", f"run,reagent_blank,{columns}\nA,0,{cells}\n")
    assert said in judged.told("runs-backwards")


@pytest.mark.parametrize(
    ("rule", "column", "said"),
    [
        (
            "shelf_life: {kit: {lasts: 30 d, source: own}}",
            "kit_opened",
            "kit opened 2031-03-10 11:00, after the reading",
        ),
        ("shelf_life: {mix: {lasts: 5 h, source: own}}", "mix_mixed", "mix mixed 2031-03-10 11:00, after the reading"),
        (TWELVE, "calibrated", "calibrated 2031-03-10 11:00, after the reading"),
    ],
)
def test_what_was_used_before_it_was_there_is_told_and_not_ready_in_silence(judge, rule, column, said):
    log = f"run,{column},first_reading,last_reading\nA,2031-03-10 11:00,2031-03-10 09:00,2031-03-10 10:00\n"
    judged = judge(rule, log)
    assert judged.states == {"A": "cannot be told"}
    assert said in judged.told("used-before")
    assert said in judged.reasons["A"]


def test_two_runs_at_one_time_on_one_instrument_are_told(judge):
    judged = judge(
        "reagent_blank: {at_most: 1, source: own}",
        """
        run,reagent_blank,instrument,start,end
        A,0,F-1,2031-03-10 09:00,2031-03-10 12:00
        B,0,F-1,2031-03-10 11:59,2031-03-10 15:00
        C,0,F-2,2031-03-10 11:00,2031-03-10 15:00
        D,0,F-1,2031-03-10 15:00,2031-03-10 16:00
        """,
    )
    assert judged.told("runs-overlap").startswith('runs.csv:3:4  run "B" begins on instrument "F-1" before run "A"')


@pytest.mark.parametrize(
    ("cells", "state", "reason"),
    [
        (",2031-03-10 09:00,2031-03-10 10:00", "cannot be told", "calibrated: not recorded"),
        ("2031-03-10 08:00,,", "cannot be told", "the time of the readings is not recorded"),
        ("2031-03-10 08:00,2031-03-10 09:00,", "cannot be told", "the last not recorded"),
        ("2031-03-10 08:00,,2031-03-10 20:01", "cannot be told", "the first not recorded"),
        ("2031-03-10 08:00,,2031-03-10 20:00", "ready", ""),
        ("2031-03-10 08:00,2031-03-10 20:01,", "not ready", "the last not recorded"),
    ],
)
def test_a_missing_time_cannot_be_told_unless_the_others_settle_it(judge, cells, state, reason):
    other = "B,2031-03-12 08:00,2031-03-12 09:00,2031-03-12 10:00"
    judged = judge(TWELVE, f"run,calibrated,first_reading,last_reading\nA,{cells}\n{other}\n")
    assert judged.states == {"A": state, "B": "ready"}
    assert reason in judged.reasons.get("A", "")


def test_what_is_recorded_for_no_run_is_told_once(judge):
    judged = judge(TWELVE, "run,calibrated,first_reading\nA,,2031-03-10 09:00\nB,,2031-03-11 09:00\n")
    assert judged.states == {"A": "cannot be told", "B": "cannot be told"}
    assert judged.reasons == {"": "not recorded: calibrated"}
    assert "cannot be told for any run" in judged.told("rule-without-column")
