"""Section 4 of the dossier: time line, rules, exceptions, and the chain behind each result."""

from __future__ import annotations

import re

import pytest

from validate.dossier.html import render_html
from validate.pipeline import evaluate, prepare
from validate.provenance.evaluation_file import evaluation_bytes, read_evaluation
from validate.studies.discovery import section_template

RULES = """
source: bench manual (invented)
calibration: {not_older_than: 12 h}
check_standard: {between: [9, 11]}
shelf_life: {working developer: 5 h}
expiry: [column]
when_not_ready: exclude
"""
LOG = """
run,instrument,firmware,measured_by,checked_by,calibrated,check_standard,working_developer_mixed,column_lot,column_expires,first_reading,last_reading
A,F-1,2.4,M. Vale,T. Orr,2031-03-10 08:00,10.1,2031-03-10 08:40,C-9,2031-12-31,2031-03-10 09:00,2031-03-10 12:00
B,F-1,2.4,T. Orr,M. Vale,2031-03-11 08:00,8.2,2031-03-11 08:40,C-9,2031-12-31,2031-03-11 09:00,2031-03-11 12:00
C,F-1,2.4,T. Orr,M. Vale,2031-03-12 08:00,9.9,2031-03-12 08:40,C-9,2031-12-31,2031-03-12 09:00,2031-03-12 12:00
"""
UTC = "{file: runs.csv, time_zone: UTC}"


@pytest.fixture
def judged(judge):
    return judge(RULES, LOG, runs=UTC)


@pytest.fixture
def section(judged) -> str:
    page = page_of(judged.prepared)
    return page[page.index('<section id="readiness"') : page.index('<section id="studies"')]


def page_of(prepared) -> str:
    templates = {"precision": section_template("precision")}
    return render_html(evaluate(prepared), prepared.inputs, templates).decode()


def words(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", html))


def test_exceptions_say_run_rule_and_why(section):
    assert "B Reading of the check standard not ready 8.2 where 9 to 11 is asked 2 of 2" in words(section)


def test_rules_stand_with_their_source_and_the_runs_in_which_they_held(section):
    assert "Calibration not older than 12 h bench manual (invented) 3 0 0 0" in words(section)
    assert "Reading of the check standard 9 to 11 bench manual (invented) 2 1 0 0" in words(section)


def test_the_chain_leads_from_each_result_to_standard_blank_and_lot(judged):
    [row] = [row for row in judged.result.chain.rows if row[0] == "B"]
    assert row[1:] == (
        "results.csv: 4-5",
        "2031-03-11 09:00 to 12:00",
        "T. Orr; checked by M. Vale",
        "F-1, firmware 2.4",
        "2031-03-11 08:00",
        "check standard 8.2",
        "working developer: mixed 2031-03-11 08:40; column: lot C-9, expires 2031-12-31",
    )


def test_every_result_with_a_run_is_in_the_chain_once(judged):
    rows = [row for line in judged.result.chain.rows for row in line[1].removeprefix("results.csv: ").split("-")]
    assert rows == ["2", "3", "4", "5", "6", "7"]


def test_the_time_line_shows_runs_against_windows(judged, section):
    [plot] = judged.result.plots
    assert plot.y.categories[-1] == "runs" and len(plot.y.categories) == 5
    lines = [layer for layer in plot.layers if layer.layer == "line" and layer.y[0] == 4]
    assert [tuple(round(x * 24, 6) for x in line.x) for line in lines] == [(8, 20), (32, 44), (56, 63)]
    crosses = next(layer for layer in plot.layers if layer.layer == "points" and layer.mark == "cross")
    assert crosses.y == (5.0, 3.0)
    assert 'id="plot-readiness-time-line"' in section and "<svg" in section


def test_left_out_rows_are_marked_in_the_listing(judged):
    page = page_of(judged.prepared)
    assert re.search(r"X\s+4  d1,B,910", page) and re.search(r"X\s+5  d1,B,911", page)


def test_the_evaluation_travels_and_comes_back(judged):
    evaluation = evaluate(judged.prepared)
    content = evaluation_bytes(evaluation)
    assert read_evaluation(content).readiness == evaluation.readiness
    assert evaluation_bytes(evaluate(judged.prepared)) == content


def test_the_log_is_an_input_with_its_hash_and_how_it_was_read(judged):
    log = next(item for item in evaluate(judged.prepared).inputs if item.name == "runs.csv")
    assert log.role == "table" and log.read_as.startswith("Read as")


def test_readiness_is_no_longer_listed_as_recorded_only(judged):
    assert evaluate(judged.prepared).recorded_only == ()


def test_a_log_without_rules_gives_the_chain_and_no_judgement(judge, tmp_path):
    judge("source: own", LOG, runs=UTC)
    path = tmp_path / "protocol.yaml"
    path.write_text(path.read_text().replace("readiness:\n  source: own\n", ""))
    prepared = prepare(tmp_path)
    assert prepared.readiness.rules == prepared.readiness.exceptions == prepared.readiness.plots == ()
    assert len(prepared.readiness.chain.rows) == 3
    page = page_of(prepared)
    assert "states no rule on readiness" in page


def test_hostile_text_of_a_log_is_text(judge):
    log = LOG.replace("M. Vale", "<script>alert(1)</script>").replace("B,F-1", "<img src=x>,F-1")
    judged = judge(RULES, log, runs=UTC)
    page = page_of(judged.prepared)
    assert "<script>alert" not in page and "<img src=x>" not in page


def test_a_log_of_thousands_of_runs_is_drawn_small_and_printed_short(judge):
    days = [f"2031-{1 + i // 840:02d}-{1 + i // 30 % 28:02d} {i % 24:02d}:00" for i in range(2_100)]
    rows = "\n".join(f"R{i},{day},{0.3 if i % 50 == 0 else 0.1},{day},{day}" for i, day in enumerate(days))
    log = f"run,calibrated,reagent_blank,first_reading,last_reading\n{rows}\n"
    rules = "calibration: {not_older_than: 1 h, source: own}\nreagent_blank: {at_most: 0.2, source: own}"
    judged = judge(rules, log, "day,run,result\n1,R1,900\n1,R1,910\n2,R2,905\n2,R2,906\n", runs=UTC)
    [plot] = judged.result.plots
    assert sum(layer.layer == "line" for layer in plot.layers) < 400
    assert sum(len(layer.x) for layer in plot.layers if layer.layer == "points") <= 2_000
    codes = [code for code in judged.codes if code == "run-not-ready"]
    assert len(codes) == 10 and "more-of-the-same" in judged.codes
