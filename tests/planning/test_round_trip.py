"""Plan → workbook → filled → evaluated gives what the same results give as CSV."""

import csv
import io
import random
import shutil
import subprocess
from pathlib import Path

import openpyxl
import pytest

from validate import evaluate, findings, load
from validate.pipeline.planning import render_plan

OFFICE = shutil.which("soffice") or shutil.which("libreoffice")


def fill(content: bytes, place: Path) -> list[dict[str, object]]:
    """Type a result into every open result cell, as a person would; returns the rows."""
    book = openpyxl.load_workbook(io.BytesIO(content))
    sheet = book["recovery"]
    header = [cell.value for cell in sheet[1]]
    draw = random.Random(20310303)
    for row in range(2, sheet.max_row + 1):
        level = sheet.cell(row, header.index("added [µg/kg]") + 1).value
        result = sheet.cell(row, header.index("found [µg/kg]") + 1)
        result.value = "<0.5" if row == 9 else round(level * (0.9 + draw.gauss(0, 0.08)), 1)
        sheet.cell(row, header.index("analyst") + 1).value = f"A. Example {draw.randint(1, 2)}"
    book.save(place)
    names = [name.split(" [")[0] for name in header]
    return [dict(zip(names, row, strict=True)) for row in sheet.iter_rows(min_row=2, values_only=True)]


def write_csv(rows: list[dict[str, object]], place: Path) -> None:
    with place.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, rows[0])
        writer.writeheader()
        writer.writerows({k: "" if v is None else v for k, v in row.items()} for row in rows)


def evaluated(folder: Path, text: str, data: str):
    (folder / "protocol.yaml").write_text(
        text.replace("    contamination:", f"    data: {data}\n    contamination:"), "utf-8"
    )
    work = load(folder)
    return findings(evaluate(work)), [problem for problem in work.problems if problem.severity == "error"]


@pytest.fixture
def filled(planned, protocol_text, tmp_path):
    content = render_plan(planned(), with_pdf=False).files["entry.xlsx"]
    folder = tmp_path / "lab"
    folder.mkdir()
    rows = fill(content, folder / "entry.xlsx")
    write_csv(rows, folder / "results.csv")
    expected, problems = evaluated(folder, protocol_text, "{file: results.csv}")
    assert problems == [] and len(expected) > 20
    return folder, protocol_text, expected


def test_findings_of_the_filled_workbook_are_those_of_the_same_results_as_csv(filled):
    folder, text, expected = filled
    found, problems = evaluated(folder, text, "{file: entry.xlsx, sheet: recovery}")
    assert problems == []
    assert found.equals(expected)


@pytest.mark.skipif(OFFICE is None, reason="LibreOffice is not installed")
def test_findings_are_the_same_after_an_office_program_saved_the_workbook(filled, tmp_path):
    folder, text, expected = filled
    profile = f"-env:UserInstallation=file://{tmp_path / 'profile'}"
    saved = tmp_path / "saved"
    run = subprocess.run(
        [OFFICE, profile, "--headless", "--convert-to", "xlsx", "--outdir", saved, folder / "entry.xlsx"],
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert run.returncode == 0, run.stderr
    shutil.copy(saved / "entry.xlsx", folder / "entry.xlsx")
    found, problems = evaluated(folder, text, "{file: entry.xlsx, sheet: recovery}")
    assert problems == []
    assert found.equals(expected)
