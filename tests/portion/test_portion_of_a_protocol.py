"""The portion of a protocol: refused, computed with its working, compared with the rows of a table, printed."""

import re

import pytest

from tests.working import recompute
from validate.dossier.html import render_html
from validate.pipeline import evaluate, prepare
from validate.portion.result import portion_result
from validate.protocol.model import Portion
from validate.studies.discovery import section_template

PROTOCOL = """\
format: 1
id: PO-1
title: Constructed protocol
issued: 2031-03-03
laboratory: A fictional laboratory
purpose: validation
intended_use: quantitative
method:
  measurand: ochratoxin A
  matrix: green coffee
  unit: µg/kg
  portion:
    weigh: 25 g
    extract_in: 250 mL
    dilute: {take: 20 mL, add: 20 mL}
    load: 4 mL
    elute_in: 1 mL
    tolerances: {weigh: 0.5 g, extract_in: 2.5 mL, load: 0.04 mL, source: constructed}
studies:
  precision:
    kind: precision
    data: {file: p.csv}
    design: {kind: one-way, outer: {column: day, called: day}, groups: 3, replicates: 2}
    accept:
      rsd_r: {at_most: 20, judge_by: estimate, source: own, reason: constructed}
"""
RESULTS = [(day, 10 + 0.1 * day + 0.2 * i) for day in (1, 2, 3) for i in (0, 1)]


@pytest.fixture
def prepared(tmp_path):
    def make(*replaced, weighed=None):
        text = PROTOCOL
        for old, new in replaced:
            assert old in text
            text = text.replace(old, new)
        lines = [f"{day},{found:.1f}" for day, found in RESULTS]
        if weighed:
            lines = [f"{line},{mass}" for line, mass in zip(lines, weighed, strict=True)]
        head = "day,result" + (",weighed" if weighed else "")
        (tmp_path / "protocol.yaml").write_text(text, "utf-8")
        (tmp_path / "p.csv").write_text("\n".join([head, *lines]) + "\n", "utf-8")
        return prepare(tmp_path)

    return make


def codes(prepared):
    return {problem.code: problem for problem in prepared.problems}


def test_loading_more_than_there_is_is_refused_at_its_line(prepared):
    made = prepared(("load: 4 mL", "load: 41 mL"))
    problem = codes(made)["impossible-step"]
    line = PROTOCOL.splitlines().index("    load: 4 mL") + 1
    assert (problem.severity, problem.place.line) == ("error", line)
    assert "after dilution there are 40 mL" in problem.message


def test_figures_recompute_from_their_working(prepared):
    portion = evaluate(prepared()).portion
    assert portion.figure("sample_represented").value == pytest.approx(0.2)
    assert portion.figure("factor").value == pytest.approx(5)
    assert len(portion.figures) == 3
    for figure in portion.figures:
        assert recompute(figure.working) == pytest.approx(figure.value, rel=1e-12)


def test_two_dilutions_have_a_working_of_their_own():
    portion = portion_result(
        Portion.model_validate(
            {
                "weigh": "20 g",
                "extract_in": "0.2 L",
                "dilute": [{"take": "15 mL", "add": "30 mL"}, {"take": "10 mL", "add": "10 mL"}],
                "load": "9 mL",
                "tolerances": {"dilute": [{}, {"take": "50 µL"}], "distribution": "triangular"},
            }
        )
    )
    assert portion.figure("sample_represented").value == pytest.approx(0.15)
    for figure in portion.figures:
        assert recompute(figure.working) == pytest.approx(figure.value, rel=1e-12)


def test_portion_is_no_longer_listed_as_recorded_only(prepared):
    assert [item.key for item in evaluate(prepared()).recorded_only] == []


def test_rows_within_the_tolerance_are_not_told_and_the_edge_belongs_to_it(prepared):
    made = prepared(weighed=["25", "25.5", "24.5", "25.1", "", "24.9"])
    assert "portion-differs" not in codes(made)
    (rows,) = evaluate(made).portion.rows
    assert (rows.samples, rows.differing) == (5, "")
    assert (rows.low, rows.high) == pytest.approx((0.98, 1.02))


def test_rows_beyond_the_tolerance_are_told_with_their_numbers(prepared):
    made = prepared(weighed=["25", "25.51", "24.4", "25.1", "25", "12.5"])
    problem = codes(made)["portion-differs"]
    assert problem.severity == "notice"
    assert "rows 3-4, 7" in problem.message
    assert evaluate(made).portion.rows[0].low == pytest.approx(0.5)


def test_portions_without_a_tolerance_are_told_as_a_range(prepared):
    made = prepared(("weigh: 0.5 g, ", ""), weighed=["25", "26", "25", "25", "25", "25"])
    assert "no tolerance for weigh" in codes(made)["portion-without-tolerance"].message


def test_a_portion_of_nothing_is_an_error_at_its_cell(prepared):
    problem = codes(prepared(weighed=["25", "0", "25", "25", "25", "25"]))["portion-of-nothing"]
    assert (problem.severity, problem.place.line, problem.place.column) == ("error", 3, 3)


def test_dossier_prints_steps_sentence_and_working(prepared):
    made = prepared()
    page = render_html(evaluate(made), made.inputs, {"precision": section_template("precision")}).decode()
    words = re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", page))
    assert "The 4 mL loaded stand for 0.2 g of sample." in words
    assert "= 25 / 250 · 20 / (20 + 20) · 4 = 0.20000 g" in words
