"""Results name their run; those that were not made while ready are treated as the protocol says, never in silence."""

from __future__ import annotations

import pytest

from validate.pipeline import evaluate, prepare
from validate.vocabulary.problem import ERROR, InputRefused

RULES = """
calibration: {{not_older_than: 12 h, source: own}}
when_not_ready: {treatment}
"""
LOG = """
run,calibrated,first_reading,last_reading
A,2031-03-10 08:00,2031-03-10 09:00,2031-03-10 12:00
B,2031-03-11 08:00,2031-03-11 21:00,2031-03-11 22:00
"""
RESULTS = """
day,run,result
1,A,900
1,A,910
2,A,905
2,A,906
3,B,990
3,B,999
"""
UTC = "{file: runs.csv, time_zone: UTC}"


def test_left_out_they_stay_as_recorded(judge):
    judged = judge(RULES.format(treatment="exclude"), LOG, RESULTS, runs=UTC)
    assert judged.reported == [2, 3, 4, 5]
    evaluation = evaluate(judged.prepared)
    [exclusion] = evaluation.exclusions
    assert exclusion.where == {"run": "B"} and exclusion.rows == "6-7" and exclusion.file == "results.csv"
    assert exclusion.reason == "Not ready: Calibration (not older than 12 h)"
    [study] = evaluation.studies
    assert study.as_recorded.finding("mean").n == 6
    assert study.as_reported.finding("mean").n == 4
    assert "2 of 6 results were made while not ready; they are left out" in evaluation.conclusion.sentences[-1]


def test_marked_they_stay_in_every_figure_and_the_study_says_so(judge):
    judged = judge(RULES.format(treatment="mark"), LOG, RESULTS, runs=UTC)
    evaluation = evaluate(judged.prepared)
    [study] = evaluation.studies
    assert evaluation.exclusions == () and study.as_reported.finding("mean").n == 6
    assert (study.as_reported.remarks[0].kind, study.as_reported.remarks[0].text[:37]) == (
        "warning", "2 of 6 results were made while not re",
    )  # fmt: skip
    assert evaluation.readiness.tables[0].rows_not_ready == "6-7"


def test_stopped_there_is_no_evaluation_and_the_rows_are_named(judge):
    judged = judge(RULES.format(treatment="stop"), LOG, RESULTS, runs=UTC)
    assert judged.told("stopped").startswith("results.csv:6:2  2 of 6 results of results.csv were made while not ready")
    with pytest.raises(InputRefused):
        evaluate(judged.prepared)


def test_marking_is_what_happens_without_a_word_in_the_protocol(judge):
    judged = judge("calibration: {not_older_than: 12 h, source: own}", LOG, RESULTS, runs=UTC)
    assert judged.reported == [2, 3, 4, 5, 6, 7]
    assert judged.result.when_not_ready == judged.result.when_cannot_be_told == "mark"


def test_what_cannot_be_told_has_a_treatment_of_its_own(judge):
    log = LOG.replace("2031-03-10 08:00", "")
    rules = RULES.format(treatment="mark") + "when_cannot_be_told: exclude\n"
    judged = judge(rules, log, RESULTS, runs=UTC)
    assert judged.reported == [6, 7]
    [exclusion] = judged.prepared.readings["spread"].exclusions
    assert exclusion.reason == "Cannot be told whether ready: Calibration (not older than 12 h)"


def test_a_protocols_own_exclusion_and_the_rule_stand_side_by_side(judge):
    own = "exclusions: [{data: results.csv, where: {result: 900}, by: A. Example, on: 2031-03-12, reason: spilled}]"
    judged = judge(RULES.format(treatment="exclude"), LOG, RESULTS, runs=UTC, extra=own)
    evaluation = evaluate(judged.prepared)
    assert [exclusion.rows for exclusion in evaluation.exclusions] == ["2", "6-7"]
    assert [line.exclusion for line in evaluation.left_one_out] == [1, 2]
    assert judged.reported == [3, 4, 5]


def test_an_exclusion_that_leaves_nothing_is_refused(judge):
    judged = judge(
        RULES.format(treatment="exclude"), LOG, "day,run,result\n1,B,900\n1,B,901\n2,B,905\n2,B,906\n", runs=UTC
    )
    assert "readiness leaves no row of results.csv" in judged.told("readiness-leaves-nothing")


def test_a_validity_that_ends_between_two_readings_is_told_for_each_by_its_own_time(judge):
    log = "run,calibrated,first_reading,last_reading\nA,2031-03-10 08:00,2031-03-10 19:00,2031-03-10 21:00\n"
    results = """
    day,run,result,read_at
    1,A,900,2031-03-10 19:00
    1,A,910,2031-03-10 20:00
    2,A,905,2031-03-10 20:01
    2,A,906,
    """
    judged = judge(RULES.format(treatment="exclude"), log, results, runs=UTC)
    assert judged.counts == (2, 1, 1)
    assert judged.states == {"A": "not ready in part"}
    assert judged.reported == [2, 3, 5]
    assert judged.reasons["A"] == "valid until 2031-03-10 20:00; readings from 2031-03-10 19:00 to 21:00"
    [table] = judged.result.tables
    assert (table.rows_not_ready, table.rows_cannot_be_told) == ("4", "5")


def test_without_times_of_their_own_such_results_cannot_be_told(judge):
    log = "run,calibrated,first_reading,last_reading\nA,2031-03-10 08:00,2031-03-10 19:00,2031-03-10 21:00\n"
    judged = judge(RULES.format(treatment="exclude"), log, runs=UTC)
    assert judged.counts == (0, 0, 2) and judged.states == {"A": "not ready in part"}


def test_a_reading_outside_its_run_is_told(judge):
    log = "run,calibrated,first_reading,last_reading\nA,2031-03-10 08:00,2031-03-10 09:00,2031-03-10 12:00\n"
    results = "day,run,result,read_at\n1,A,900,2031-03-10 09:00\n1,A,910,2031-03-10 12:01\n2,A,905,2031-03-10 08:59\n"
    judged = judge(RULES.format(treatment="mark"), log, results, runs=UTC)
    assert judged.told("reading-outside-run").startswith("results.csv:3:4  read before the first or after the last")
    assert "rows: 3-4" in judged.told("reading-outside-run")


def test_a_run_named_in_no_log_is_refused_with_the_nearest_name(judge):
    judged = judge(
        RULES.format(treatment="mark"), LOG.replace("B,", "RUN-2,"), RESULTS.replace(",B,", ",RUN2,"), runs=UTC
    )
    told = judged.told("run-not-in-log")
    assert told == 'results.csv:6:2  runs.csv has no run "RUN2" (rows 6-7)\n    did you mean "RUN-2"?'
    assert any(problem.severity == ERROR for problem in judged.prepared.problems)


def test_two_runs_with_one_name_are_refused(judge):
    judged = judge(RULES.format(treatment="mark"), LOG.replace("B,", "A,"), RESULTS.replace(",B,", ",A,"), runs=UTC)
    assert judged.result is None
    assert judged.told("run-twice").startswith('runs.csv:3:1  the run "A" stands in the log twice; its first row is 2')


def test_rows_without_a_run_are_told_and_cannot_be_told_ready(judge):
    judged = judge(RULES.format(treatment="exclude"), LOG, RESULTS.replace(",A,900", ",,900"), runs=UTC)
    assert judged.counts == (3, 2, 1)
    assert judged.told("rows-without-run").startswith("results.csv:2:2  1 row names no run (rows 2)")
    assert judged.result.tables[0].without_run == 1


def test_a_table_without_the_column_is_told(judge):
    results = "day,result\n1,900\n1,910\n2,905\n2,906\n"
    judged = judge(RULES.format(treatment="exclude"), LOG, results, runs=UTC)
    assert judged.counts == (0, 0, 4)
    assert "no column for the run" in judged.told("table-without-run")
    assert evaluate(judged.prepared).conclusion.sentences[-1].startswith("Of 4 of 4 results it cannot be told")


def test_the_column_of_the_run_can_have_another_name(judge, tmp_path):
    judge(RULES.format(treatment="mark"), LOG, RESULTS.replace("run,", "session,"), runs=UTC)
    path = tmp_path / "protocol.yaml"
    path.write_text(path.read_text().replace("{file: results.csv}", "{file: results.csv, columns: {run: session}}"))
    from validate.pipeline import prepare

    assert prepare(tmp_path).readiness.tables[0].not_ready == 2


def test_a_study_may_read_the_run_as_its_own_factor(judge, tmp_path):
    judge(RULES.format(treatment="mark"), LOG, RESULTS, runs=UTC)
    path = tmp_path / "protocol.yaml"
    path.write_text(path.read_text().replace("outer: {column: day, called: day}", "outer: {column: run, called: run}"))
    from validate.pipeline import prepare

    assert prepare(tmp_path).readiness.tables[0].not_ready == 2


def test_a_time_of_the_log_is_amended_like_any_value(judge):
    extra = """
    amendments:
      - {data: runs.csv, where: {run: B}, column: calibrated, old: 2031-03-11 08:00, new: 2031-03-11 18:00,
         by: A. Example, on: 2031-03-12, reason: The print-out says 18:00.}
    """
    judged = judge(RULES.format(treatment="exclude"), LOG, RESULTS, runs=UTC, extra=extra)
    assert judged.states == {"A": "ready", "B": "ready"}
    [amendment] = evaluate(judged.prepared).amendments
    assert (amendment.file, amendment.old, amendment.new) == ("runs.csv", "2031-03-11 08:00", "2031-03-11 18:00")


def test_a_control_chart_may_keep_the_runs_that_its_check_standard_stops(tmp_path):
    """Otherwise the chart of the check standard would lose the very runs that it is there to show."""
    standard = [10.0, 10.2, 9.9, 10.1, 9.8, 10.2, 10.0, 9.9, 10.1, 12.5]
    log = "".join(f"R{i},{value}\n" for i, value in enumerate(standard, start=1))
    (tmp_path / "runs.csv").write_text("run,check_standard\n" + log, encoding="utf-8")
    text = """format: 1
id: READY-02
title: Chart of the check standard
issued: 2031-03-03
origin: {data: invented, statement: Invented for this test.}
laboratory: Example laboratory (fictional)
purpose: verification
intended_use: quantitative
method: {measurand: deoxynivalenol, matrix: wheat, unit: µg/kg}
readiness: {source: test, check_standard: {between: [9, 11], unit: µg/kg}, when_not_ready: exclude}
runs: runs.csv
studies:
  chart:
    kind: control_chart
    data: {file: runs.csv, columns: {value: check_standard}}
    design: {runs: 10}
    limits: {from: base period, base: {runs: 9}}
    rules: [beyond limits]
    KEPT
"""
    signals = {}
    for kept in ("when_not_ready: mark", "title: Without the key"):
        (tmp_path / "protocol.yaml").write_text(text.replace("KEPT", kept), encoding="utf-8")
        prepared = prepare(tmp_path)
        evaluation = evaluate(prepared)
        chart = evaluation.studies[0].as_reported
        signals[kept] = (chart.finding("signal_count").value, chart.finding("mean").n)
        if kept.endswith("mark"):
            assert evaluation.conclusion.sentences[-1] == (
                "In chart: 1 of 10 results were made while not ready; "
                "they are kept in every figure, by the protocol's rule."
            )
    assert signals == {"when_not_ready: mark": (1, 10), "title: Without the key": (None, 9)}
