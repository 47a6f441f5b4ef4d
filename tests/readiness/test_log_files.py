"""The run log as CSV and as a sheet, its columns, and the catalogue of its problems."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from pathlib import Path

import pytest

import validate.readiness.telling as telling
from validate.pipeline import prepare

ROOM = Path(telling.__file__).parent
LOG = "run,calibrated,first_reading,last_reading\nA,2031-03-10 08:00,2031-03-10 20:00,2031-03-10 20:01\n"
RULE = "calibration: {not_older_than: 12 h, source: own}"


def test_a_sheet_with_real_dates_says_the_same_as_a_text_table(judge, tmp_path):
    import openpyxl

    judged = judge(RULE, LOG, runs="{file: runs.csv, time_zone: UTC}")
    book = openpyxl.Workbook()
    book.active.title = "Runs"
    book.active.append(["run", "calibrated", "first_reading", "last_reading"])
    book.active.append(["A", *(dt.datetime(2031, 3, 10, *clock) for clock in ((8, 0), (20, 0), (20, 1)))])
    book.save(tmp_path / "book.xlsx")
    path = tmp_path / "protocol.yaml"
    path.write_text(path.read_text().replace("{file: runs.csv,", "{file: book.xlsx, sheet: Runs,"))
    from_sheet = prepare(tmp_path).readiness
    assert from_sheet.runs == judged.result.runs and from_sheet.exceptions == judged.result.exceptions
    assert judged.states == {"A": "not ready in part"}


def test_columns_of_the_log_can_have_other_names(judge):
    log = LOG.replace("run,calibrated", "session,set at")
    judged = judge(RULE, log, runs="{file: runs.csv, time_zone: UTC, columns: {run: session, calibrated: set at}}")
    assert judged.states == {"A": "not ready in part"}


def test_a_column_that_the_log_lacks_is_told_at_the_rule(judge):
    judged = judge(RULE, "run,first_reading,last_reading\nA,2031-03-10 20:00,2031-03-10 20:01\n")
    assert judged.states == {"A": "cannot be told"}
    assert judged.told("rule-without-column").startswith("protocol.yaml:12:3  calibration: the run log has no column")


def test_a_rule_without_a_source_is_told(judge):
    judged = judge("calibration: {not_older_than: 12 h}", LOG)
    assert "no source is named for: calibration" in judged.told("rule-without-source")


def test_two_starts_of_a_shelf_life_are_refused(judge):
    times = "2031-03-10,2031-03-10,2031-03-10 09:00,2031-03-10 10:00"
    log = f"run,mix_mixed,mix_opened,first_reading,last_reading\nA,{times}\n"
    judged = judge("shelf_life: {mix: 5 h}", log)
    assert "counted_from: mixing" in judged.told("shelf-life-start-unclear")
    assert judge("shelf_life: {mix: {lasts: 5 d, counted_from: opening}}", log).states == {"A": "ready"}


def test_a_limit_with_the_name_of_a_column_of_the_log_is_refused(judge):
    judged = judge("limits: {calibrated: {at_most: 1}}", LOG)
    assert judged.result is None and '"calibrated"' in judged.told("column-claimed-twice")


@pytest.mark.parametrize(
    ("cell", "code"),
    [("08:00", "cell-time-without-date"), ("03/04/2031 08:00", "cell-date-ambiguous"), ("noon", "cell-time-form")],
)
def test_a_time_that_cannot_be_read_is_an_error_at_its_cell(judge, cell, code):
    judged = judge(RULE, LOG.replace("2031-03-10 08:00", cell))
    assert judged.result is None and "runs.csv:2:2" in judged.told(code)


def test_a_missing_log_is_an_error_and_the_tables_are_still_checked(judge, tmp_path):
    judge(RULE, LOG)
    (tmp_path / "runs.csv").unlink()
    prepared = prepare(tmp_path)
    assert prepared.problems[0].message == 'there is no file "runs.csv" in the protocol\'s folder'
    assert prepared.readings["spread"].reported is not None


def test_every_problem_is_reported_somewhere_and_every_reported_one_is_described():
    catalogue = tomllib.loads((ROOM / "problems.toml").read_text(encoding="utf-8"))
    sources = "".join(path.read_text(encoding="utf-8") for path in sorted(ROOM.glob("*.py")))
    assert {code for code in catalogue if f'"{code}"' not in sources} == set()
    assert set(re.findall(r'PROBLEMS\.problem\(\s*"([a-z-]+)"', sources)) <= set(catalogue)


def test_every_problem_says_how_to_mend_it():
    catalogue = tomllib.loads((ROOM / "problems.toml").read_text(encoding="utf-8"))
    assert {code for code, entry in catalogue.items() if not entry["mend"]} == {"more-of-the-same"}
