"""Small protocols for the tests of collaborative trials, through the whole pipeline."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from validate.pipeline import evaluate, prepare
from validate.vocabulary.evaluation import Evaluation, ResultTable, StudyResult
from validate.vocabulary.problem import InputRefused, Problem

ROOT = Path(__file__).parents[4]
PROTOCOL = """format: 1
id: T
title: Test of a trial
issued: 2031-02-03
origin: {{data: invented, statement: Invented for a test.}}
laboratory: test laboratories (fictional)
purpose: verification
intended_use: quantitative
method: {{measurand: deoxynivalenol, matrix: wheat, unit: µg/kg{method}}}
studies:
  trial:
    kind: collaborative_trial
    data: {{file: trial.csv}}
    design: {design}
{more}
"""
SOUND = [[51, 50], [52, 51], [49, 50], [51, 52], [50, 51], [53, 52], [50, 49], [51, 50]]
"""Eight laboratories in duplicate, nothing stands out."""
UNIFORM = "{kind: uniform, levels: [50]}"
HEADER = "laboratory,level,replicate,result"


def rows_of(cells: Iterable[Sequence[float | str]], level: str = "50") -> list[str]:
    """Rows of a uniform table: laboratories A, B, …"""
    return [f"{chr(65 + i)},{level},{k},{x}" for i, cell in enumerate(cells) for k, x in enumerate(cell, start=1)]


def write(
    folder: Path, rows: Iterable[str], design: str = UNIFORM, *, header: str = HEADER, method: str = "", **keys: str
) -> Path:
    more = "\n".join(f"    {key}: {value}" for key, value in keys.items())
    text = PROTOCOL.format(design=design, more=more, method=method)
    (folder / "protocol.yaml").write_text(text, encoding="utf-8")
    (folder / "trial.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return folder


def evaluated(folder: Path, rows: Iterable[str], design: str = UNIFORM, **keys: str) -> Evaluation:
    return evaluate(prepare(write(folder, rows, design, **keys)))


def result(folder: Path, rows: Iterable[str], design: str = UNIFORM, **keys: str) -> StudyResult:
    (study,) = evaluated(folder, rows, design, **keys).studies
    return study.as_reported


def published(protocol: str) -> StudyResult:
    """The collaborative trial of a protocol that ships with the project."""
    studies = evaluate(prepare(ROOT / "protocols" / protocol)).studies
    (study,) = (study for study in studies if study.kind == "collaborative_trial")
    return study.as_reported


def problems(folder: Path, rows: Iterable[str], design: str = UNIFORM, **keys: str) -> tuple[Problem, ...]:
    """Errors and notices of a protocol and its table."""
    try:
        return prepare(write(folder, rows, design, **keys)).problems
    except InputRefused as refused:
        return refused.problems


def value(found: StudyResult, name: str, level: str = "50") -> float:
    finding = found.finding(name, level)
    assert finding is not None and finding.value is not None, (name, finding)
    return finding.value


def table(found: StudyResult, name: str) -> ResultTable:
    (only,) = (t for t in found.tables if t.name == name)
    return only
