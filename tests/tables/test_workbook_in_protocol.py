"""A protocol whose tables are sheets of one workbook: the same findings as from CSV, and a listing of each sheet."""

from __future__ import annotations

import csv
import hashlib
import io
from pathlib import Path

import openpyxl
import pytest

from validate.dossier.html import render_html
from validate.pipeline import evaluate, prepare
from validate.vocabulary.problem import ERROR, InputRefused

PROTOCOL = """format: 1
id: W-1
edition: {edition}
title: Recovery of deoxynivalenol from wheat at one level
issued: 2031-02-03
origin: {{data: invented, statement: Invented for this test.}}
laboratory: Example laboratory (fictional)
purpose: verification
intended_use: quantitative
method: {{measurand: deoxynivalenol, matrix: wheat, unit: µg/kg}}
studies:
  first:
    kind: recovery
    data: {{file: {file}{sheet_one}}}
    {study}
  second:
    kind: recovery
    data: {{file: {other}{sheet_two}}}
    {study}
{treatments}
"""
STUDY = "design: {levels: [1000], replicates: 2, days: 3}\n    contamination: spiked before extraction"
ROWS = [("1000", str(900 + 10 * i), str(1 + i // 2)) for i in range(6)]
EXCLUSION = """exclusions:
  - {{data: {file}{sheet}, where: {{found: 930}}, by: A. Example, on: 2031-02-09, reason: spilt}}"""


def columns() -> list[str]:
    """The header in the words of the study."""
    from validate.studies.discovery import kinds

    level = next(column.role for column in kinds()["recovery"].columns if column.type == "level")
    return [level, "found", "day"]


def table() -> list[tuple[str, ...]]:
    return [tuple(columns()), *ROWS]


def written(folder: Path, *, workbook: bool, edition: int = 1, treatments: str = "", sheets: bool = True) -> Path:
    if workbook:
        book = openpyxl.Workbook()
        book.remove(book.active)
        for name in ("Monday", "Tuesday"):
            sheet = book.create_sheet(name)
            for row in table():
                sheet.append([float(cell) if cell.replace(".", "").isdigit() else cell for cell in row])
        book.save(folder / "results.xlsx")
        names = {"file": "results.xlsx", "other": "results.xlsx"}
        names |= {"sheet_one": ", sheet: Monday", "sheet_two": ", sheet: Tuesday"} if sheets else dict.fromkeys(
            ("sheet_one", "sheet_two"), "")  # fmt: skip
    else:
        for name in ("a.csv", "b.csv"):
            with (folder / name).open("w", newline="", encoding="utf-8") as stream:
                csv.writer(stream).writerows(table())
        names = {"file": "a.csv", "other": "b.csv", "sheet_one": "", "sheet_two": ""}
    text = PROTOCOL.format(edition=edition, treatments=treatments, study=STUDY, **names)
    (folder / "protocol.yaml").write_text(text, encoding="utf-8")
    return folder


def test_sheets_give_the_findings_of_the_same_tables_in_csv(tmp_path):
    (tmp_path / "x").mkdir()
    (tmp_path / "c").mkdir()
    from_sheets = evaluate(prepare(written(tmp_path / "x", workbook=True)))
    from_csv = evaluate(prepare(written(tmp_path / "c", workbook=False)))
    for one, other in zip(from_sheets.studies, from_csv.studies, strict=True):
        assert one.as_reported.findings
        assert [(f.name, f.value) for f in one.as_reported.findings] == [
            (f.name, f.value) for f in other.as_reported.findings
        ]
    rows = from_sheets.studies[1].as_reported.findings[0].rows
    assert rows[0].file == "results.xlsx!Tuesday"


def test_dossier_lists_each_sheet_and_hashes_the_workbook(tmp_path):
    prepared = prepare(
        written(tmp_path, workbook=True, treatments=EXCLUSION.format(file="results.xlsx", sheet=", sheet: Tuesday"))
    )
    evaluation = evaluate(prepared)
    [item] = [item for item in evaluation.inputs if item.name == "results.xlsx"]
    assert item.sha256 == hashlib.sha256((tmp_path / "results.xlsx").read_bytes()).hexdigest()
    assert 'sheet "Monday"' in item.read_as and 'sheet "Tuesday"' in item.read_as
    assert [(e.file, e.rows) for e in evaluation.exclusions] == [("results.xlsx!Tuesday", "5")]
    page = render_html(evaluation, prepared.inputs, {"recovery": ""}).decode()
    monday, tuesday = (page.split(f"results.xlsx!{name}</h4>")[1].split("</pre>")[0] for name in ("Monday", "Tuesday"))
    assert "X 5  1000    930    2" in tuesday
    assert "X 5" not in monday and "  5  1000    930    2" in monday


@pytest.mark.parametrize(
    ("file", "sheet", "code"),
    [
        ("results.xlsx", "", "treatment-of-which-sheet"),
        ("results.xlsx", ", sheet: Friday", "treatment-of-unread-sheet"),
    ],
)
def test_treatment_must_say_which_sheet_it_means(tmp_path, file, sheet, code):
    prepared = prepare(written(tmp_path, workbook=True, treatments=EXCLUSION.format(file=file, sheet=sheet)))
    assert code in [p.code for p in prepared.problems if p.severity == ERROR]


def test_every_study_without_its_sheet_is_told_at_its_place(tmp_path):
    prepared = prepare(written(tmp_path, workbook=True, sheets=False))
    told = [p for p in prepared.problems if p.code == "workbook-sheet-unsaid"]
    assert [p.place.line for p in told] == [14, 19]
    with pytest.raises(InputRefused):
        evaluate(prepared)


def test_line_break_in_quotes_does_not_shift_the_mark_of_an_excluded_row(tmp_path):
    folder = written(tmp_path, workbook=False, treatments=EXCLUSION.format(file="a.csv", sheet=""))
    stream = io.StringIO()
    csv.writer(stream).writerows([(*table()[0], "note"), *((*row, "two\nlines") for row in table()[1:])])
    (folder / "a.csv").write_text(stream.getvalue(), encoding="utf-8")
    prepared = prepare(folder)
    page = render_html(evaluate(prepared), prepared.inputs, {"recovery": ""}).decode()
    assert "X 5  1000,930,2,&#34;two⏎lines&#34;" in page.split("a.csv</h4>")[1]
