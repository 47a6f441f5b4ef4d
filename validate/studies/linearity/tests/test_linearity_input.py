"""From files to findings and messages: forms, odd tables, and what can never end in a traceback."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from validate.pipeline import evaluate as evaluate_prepared
from validate.pipeline import prepare
from validate.studies.linearity.study import STUDY
from validate.studies.linearity.tests.linearity_bench import evaluate, finding_of, job, own, problems
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.problem import ERROR

HEAD = """format: 1
id: T
title: Test
issued: 2031-03-03
origin: {data: invented, statement: Invented for a test.}
laboratory: Fictional
purpose: validation
intended_use: quantitative
method: {measurand: ochratoxin A, matrix: coffee, unit: µg/kg, reading: {resolution: 0.1, floor: 0}}
studies:
  s:
    kind: linearity
    data: {file: t.csv}
"""


def prepared(folder: Path, study: str, table: str) -> Any:
    lines = "".join(f"    {line}\n" for line in study.strip().splitlines())
    (folder / "protocol.yaml").write_text(HEAD + lines, encoding="utf-8")
    (folder / "t.csv").write_text(table, encoding="utf-8")
    return prepare(folder)


def result_of(folder: Path, study: str, table: str) -> StudyResult:
    return evaluate_prepared(prepared(folder, study, table)).studies[0].as_reported


def messages(folder: Path, study: str, table: str) -> list[str]:
    return [str(problem) for problem in prepared(folder, study, table).problems]


def test_record_of_set_points_is_read_from_a_table_with_dates(tmp_path: Path) -> None:
    study = "form: set points\ndesign: {levels: [5, 20], replicates: 3}\nallowed: {5: [4.5, 5.5]}"
    rows = ["2031-03-01,5,5.1", "2031-03-01,20,20.4", "2031-03-02,5,5.7", "2031-03-02,20,19.6", "2031-03-03,5,4.9"]
    result = result_of(tmp_path, study, "date,level,found\n" + "\n".join(rows) + "\n")
    assert finding_of(result, "set_point_deviation", "5").n == 3
    assert [remark.rows for remark in result.remarks if remark.kind == "flag"] == ["4"]


def test_set_point_without_a_date_is_refused(tmp_path: Path) -> None:
    study = "form: set points\ndesign: {levels: [5], replicates: 1}"
    assert any('"date"' in text for text in messages(tmp_path, study, "level,found\n5,5.1\n"))


def test_content_below_a_limit_is_kept_censored_where_the_display_shows_contents(tmp_path: Path) -> None:
    study = "form: found against nominal\ndesign: {levels: [1, 2, 5, 10, 20], replicates: 1}"
    result = result_of(tmp_path, study, "level,found\n1,<1\n2,2.1\n5,5.0\n10,10.3\n20,19.8\n")
    assert finding_of(result, "deviation", "1").reason == "all readings at this level are censored"


def test_text_in_the_place_of_a_signal_is_refused_at_its_cell(tmp_path: Path) -> None:
    study = "design: {levels: [1, 2, 5], replicates: 1}"
    found = messages(tmp_path, study, "level,signal\n1,0.1\n2,over\n5,0.5\n")
    assert any(text.partition("  ")[0].endswith("t.csv:3:2") for text in found)


def test_level_zero_with_relative_weights_says_how_to_mend(tmp_path: Path) -> None:
    study = "design: {levels: [0, 1, 2, 5, 10, 20], replicates: 1}\nweights: 1/x^2"
    found = messages(tmp_path, study, "level,signal\n0,0.0\n1,0.1\n2,0.2\n5,0.5\n10,1.1\n20,2.0\n")
    assert any("level 0 has no weight 1/x^2" in text and "weight_floor: 1" in text for text in found)


def test_unknown_weights_are_refused_with_the_known_ones(tmp_path: Path) -> None:
    study = "design: {levels: [1, 2, 5], replicates: 1}\nweights: 1/y"
    with pytest.raises(Exception, match="1/x"):
        prepared(tmp_path, study, "level,signal\n1,1\n2,2\n5,5\n")


SIZES = st.floats(1e-30, 1e30)
"""What a table lets through."""
READING = st.one_of(
    st.floats(1e-6, 1e6), SIZES, SIZES.map(lambda size: -size), st.sampled_from(["NA", "", "<1", "n.d.", 0.0, 1.0])
)
WAYS: list[dict[str, Any]] = [
    {},
    {"weights": "1/x", "weight_floor": "1"},
    {"through_origin": "yes"},
    {"form": "found against nominal", "accept": own("largest_deviation", at_most="10")},
    {"signal": {"blank_subtracted": "yes", "resolution": "0.1"}, "accept": own("deviation", between=["-9", "9"])},
]


@settings(max_examples=200, deadline=None)
@given(
    readings=st.lists(READING, min_size=12, max_size=12),
    way=st.sampled_from(WAYS),
    days=st.lists(st.sampled_from("ab"), min_size=12, max_size=12),
)
def test_whatever_passes_the_check_is_evaluated(readings: list[Any], way: dict[str, Any], days: list[str]) -> None:
    x = [level for level in (0, 1, 2, 5, 10, 20) for _ in (0, 1)]
    more = {"columns": {"day": days}, **way}
    if any(problem.severity == ERROR for problem in problems(x, readings, **more).values()):
        return
    result = evaluate(x, readings, **more)
    assert all(finding.value is not None or finding.reason for finding in result.findings)


def test_many_levels_that_hold_nowhere_end_in_a_reason() -> None:
    x = [level for level in range(1, 51) for _ in range(4)]
    y = [(3 if level % 2 else 1) * level + i % 2 for i, level in enumerate(x)]
    result = STUDY.evaluate(job(x, y, accept=own("largest_deviation", at_most="5")))
    assert finding_of(result, "working_range_from").reason == "no range of at least 5 levels meets the declared bounds"
