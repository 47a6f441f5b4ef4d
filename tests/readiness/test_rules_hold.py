"""Each rule by a hand-made log with known answers; equality at the limit is ready."""

from __future__ import annotations

import pytest


def test_a_calibration_is_good_to_the_last_minute_of_its_time(judge):
    judged = judge(
        "calibration: {not_older_than: 12 h, source: own}",
        """
        run,calibrated,first_reading,last_reading
        within,2031-03-10 08:00,2031-03-10 09:00,2031-03-10 19:59
        equal,2031-03-11 08:00,2031-03-11 09:00,2031-03-11 20:00
        beyond,2031-03-12 08:00,2031-03-12 20:01,2031-03-12 20:30
        """,
        runs="{file: runs.csv, time_zone: UTC}",
    )
    assert judged.states == {"within": "ready", "equal": "ready", "beyond": "not ready"}
    assert judged.reasons == {"beyond": "valid until 2031-03-12 20:00; readings from 2031-03-12 20:01 to 20:30"}
    assert judged.counts == (4, 2, 0)


def test_time_runs_through_midnight(judge):
    judged = judge(
        "shelf_life: {developer: {lasts: 5 h, source: own}}",
        """
        run,developer_mixed,first_reading,last_reading
        night,2031-12-31 21:30,2031-12-31 23:00,2032-01-01 02:30
        late,2031-12-31 21:30,2032-01-01 02:31,2032-01-01 03:00
        """,
        runs="{file: runs.csv, time_zone: UTC}",
    )
    assert judged.states == {"night": "ready", "late": "not ready"}


@pytest.mark.parametrize(
    ("reading", "state"),
    [
        ("9.0", "ready"), ("11", "ready"), ("8.9", "not ready"), ("11.1", "not ready"), ("", "cannot be told"),
        ("<9", "not ready"), (">11", "not ready"), (">10", "cannot be told"), ("n.d.", "cannot be told"),
    ],
)  # fmt: skip
def test_a_check_standard_lies_within_its_range_ends_included(judge, reading, state):
    judged = judge("check_standard: {between: [9.0, 11.0], source: own}", f"run,check_standard\nA,{reading}\n")
    assert judged.states == {"A": state}


@pytest.mark.parametrize("blank", ["water_blank", "reagent_blank"])
@pytest.mark.parametrize(
    ("reading", "state"),
    [("0", "ready"), ("0.2", "ready"), ("0.3", "not ready"), ("<0.2", "ready"), ("<0.5", "cannot be told")],
)
def test_a_blank_reads_at_most_its_limit(judge, blank, reading, state):
    judged = judge(f"{blank}: {{at_most: 0.2, source: own}}", f"run,{blank}\nA,{reading}\n")
    assert judged.states == {"A": state}


def test_any_recorded_quantity_can_have_limits_in_its_unit(judge):
    judged = judge(
        "limits: {column flow: {at_most: 2, unit: mL/min, source: own}}",
        "run,column_flow [µL/min]\nA,2000\nB,2001\n",
    )
    assert judged.states == {"A": "ready", "B": "not ready"}
    assert judged.reasons == {"B": "2.001 where at most 2 mL/min is asked"}


def test_the_last_day_of_use_is_a_day_of_use(judge):
    judged = judge(
        "expiry: {items: [column], source: label}",
        """
        run,column_expires,first_reading,last_reading
        last day,2031-03-31,2031-03-31 09:00,2031-03-31 23:59
        past midnight,2031-03-31,2031-03-31 22:00,2031-04-01 00:10
        day after,2031-03-31,2031-04-01 09:00,2031-04-01 10:00
        """,
        runs="{file: runs.csv, time_zone: America/Lima}",
    )
    assert judged.states == {"last day": "ready", "past midnight": "not ready in part", "day after": "not ready"}
    assert judged.reasons["day after"].startswith("last day of use 2031-03-31; readings from 2031-04-01 09:00")


def test_a_material_of_the_protocol_brings_its_own_last_day(judge):
    judged = judge(
        "expiry: [standard]",
        """
        run,first_reading,last_reading
        A,2031-09-30 09:00,2031-09-30 12:00
        B,2031-10-01 09:00,2031-10-01 12:00
        """,
        extra="materials: {standard: {kind: solution, expires: 2031-09-30}}",
    )
    assert judged.states == {"A": "ready", "B": "not ready"}


def test_days_after_opening_are_counted_from_a_date_alone(judge):
    """Opened on 1 March, 30 d: up to the end of 31 March; from a time, 30 times 24 hours."""
    judged = judge(
        "shelf_life: {concentrate: {lasts: 30 d, counted_from: opening, source: own}}",
        """
        run,concentrate_opened,first_reading,last_reading
        day 30,2031-03-01,2031-03-31 09:00,2031-03-31 23:00
        day 31,2031-03-01,2031-04-01 00:00,2031-04-01 09:00
        same day,2031-03-01,2031-03-01 09:00,2031-03-01 10:00
        hour 720,2031-03-01 09:00,2031-03-31 08:00,2031-03-31 09:00
        hour 721,2031-03-01 09:00,2031-03-31 09:01,2031-03-31 10:00
        """,
        runs="{file: runs.csv, time_zone: UTC}",
    )
    assert judged.states == {
        "day 30": "ready", "day 31": "not ready", "same day": "ready", "hour 720": "ready", "hour 721": "not ready",
    }  # fmt: skip


def test_hours_after_a_date_alone_are_told_only_where_they_are_certain(judge):
    judged = judge(
        "shelf_life: {developer: {lasts: 5 h, source: own}}",
        """
        run,developer_mixed,first_reading,last_reading
        early,2031-03-10,2031-03-10 04:00,2031-03-10 05:00
        midday,2031-03-10,2031-03-10 12:00,2031-03-10 13:00
        next day,2031-03-10,2031-03-11 06:00,2031-03-11 07:00
        """,
        runs="{file: runs.csv, time_zone: UTC}",
    )
    assert judged.states == {"early": "ready", "midday": "cannot be told", "next day": "not ready"}


def test_a_reading_follows_the_developer_within_its_time(judge):
    judged = judge(
        "after_developer: {read_within: 60 s, source: own}",
        "run,first_reading,last_reading\nA,2031-03-10 09:00,2031-03-10 12:00\n",
        """
        day,run,result,developer_added,read_at
        1,A,900,2031-03-10 09:00:00,2031-03-10 09:01:00
        1,A,910,2031-03-10 09:10:00,2031-03-10 09:11:01
        2,A,905,,2031-03-10 09:30:00
        2,A,906,2031-03-10 09:40:00,2031-03-10 09:40:30
        """,
        runs="{file: runs.csv, time_zone: UTC}",
    )
    assert judged.counts == (2, 1, 1)
    assert judged.states == {"A": "not ready in part"}
    [exception] = judged.result.exceptions
    assert (exception.results, exception.of_results, exception.reason) == (2, 4, "by the times of its results")


def test_one_time_of_the_developer_can_stand_for_a_run(judge):
    judged = judge(
        "after_developer: {read_within: 10 min, source: own}",
        """
        run,developer_added,first_reading,last_reading
        A,2031-03-10 09:00,2031-03-10 09:02,2031-03-10 09:10
        B,2031-03-11 09:00,2031-03-11 09:11,2031-03-11 09:20
        """,
        runs="{file: runs.csv, time_zone: UTC}",
    )
    assert judged.states == {"A": "ready", "B": "not ready"}


def test_a_run_is_ready_when_every_rule_holds(judge):
    judged = judge(
        """
        calibration: {not_older_than: 12 h, source: own}
        reagent_blank: {at_most: 0.2, source: own}
        """,
        """
        run,calibrated,reagent_blank,start,end
        A,2031-03-10 08:00,0.1,2031-03-10 09:00,2031-03-10 12:00
        B,2031-03-11 08:00,0.4,2031-03-11 09:00,2031-03-11 12:00
        C,2031-03-11 08:00,,2031-03-12 09:00,2031-03-12 12:00
        """,
        runs="{file: runs.csv, time_zone: UTC}",
    )
    assert judged.states == {"A": "ready", "B": "not ready", "C": "not ready"}
    assert [(item.run, item.rule, item.state) for item in judged.result.exceptions] == [
        ("B", "reagent_blank", "not ready"),
        ("C", "calibration", "not ready"),
        ("C", "reagent_blank", "cannot be told"),
    ]


COMMON_PRACTICE = """
calibration: {not_older_than: 24 h}
water_blank: {at_most: 0}
reagent_blank: {at_most: 0}
shelf_life:
  solvent mix: {lasts: 1 week, counted_from: mixing}
  concentrate: {lasts: 30 d, counted_from: opening}
  mixed developer: {lasts: 8 h, counted_from: mixing}
source: common practice, no source
"""
LOG = """
run,calibrated,water_blank,reagent_blank,solvent_mix_mixed,concentrate_opened,mixed_developer_mixed,first_reading,last_reading
ready,2031-03-10 08:00,0,0,2031-03-04 08:00,2031-02-09,2031-03-11 00:00,2031-03-11 07:00,2031-03-11 08:00
calibration,2031-03-10 07:59,0,0,2031-03-10 08:00,2031-03-01,2031-03-11 07:00,2031-03-11 08:00,2031-03-11 09:00
water,2031-03-11 08:00,0.1,0,2031-03-10 08:00,2031-03-01,2031-03-11 08:00,2031-03-11 10:00,2031-03-11 11:00
solvent,2031-03-11 08:00,0,0,2031-03-04 11:59,2031-03-01,2031-03-11 08:00,2031-03-11 12:00,2031-03-11 13:00
concentrate,2031-03-11 08:00,0,0,2031-03-10 08:00,2031-02-08,2031-03-11 08:00,2031-03-11 14:00,2031-03-11 15:00
developer,2031-03-11 08:00,0,0,2031-03-10 08:00,2031-03-01,2031-03-11 07:59,2031-03-11 16:00,2031-03-11 17:00
"""


def test_values_of_common_practice(judge):
    """Common practice, no source: calibrated every 24 h, blanks read zero, solvent mix one week, opened concentrate 30
    days, mixed developer 8 h. The first run stands at every limit; each other breaks one rule by a minute or a day."""
    judged = judge(COMMON_PRACTICE, LOG, runs="{file: runs.csv, time_zone: UTC}")
    assert judged.states["ready"] == "ready"
    broken = {item.run: item.title.lower() for item in judged.result.exceptions if item.state == "not ready"}
    assert len(broken) == 5 and all(run in title for run, title in broken.items())
    assert {rule.source for rule in judged.result.rules} == {"common practice, no source"}
