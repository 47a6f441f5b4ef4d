"""A bench for tests: a round written into a folder, checked and evaluated."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from validate.pipeline import evaluate, prepare
from validate.vocabulary.evaluation import StudyEvaluation

HEAD = """format: 1
id: ROUND-TEST
title: Test round
issued: 2031-03-03
origin: {{data: invented, statement: Invented for a test.}}
laboratory: Example organiser (fictional)
purpose: round
intended_use: quantitative
method: {{measurand: deoxynivalenol, matrix: wheat, unit: {unit}}}
studies:
  round:
    kind: proficiency_round
    round: T-1
    status: final
    items: {{preparation: Invented.}}
    data: {{file: results.csv}}
"""
USUAL = """    samples: [A]
    assigned_value: {by: algorithm A}
    sigma_pt: {by: prescribed, value: 10, source: test}
"""


def written(folder: Path, table: str, settings: str = USUAL, *, unit: str = "µg/kg") -> Path:
    """A folder with protocol and table."""
    (folder / "protocol.yaml").write_text(HEAD.format(unit=unit) + settings, encoding="utf-8")
    (folder / "results.csv").write_text(table, encoding="utf-8")
    return folder


def long_table(results: dict[str, Sequence[Any]], *samples: str) -> str:
    """Code → a result for each sample."""
    lines = ["laboratory,sample,result"]
    for code, values in results.items():
        lines += [f"{code},{sample},{value}" for sample, value in zip(samples or ("A",), values, strict=True)]
    return "\n".join(lines) + "\n"


def round_of(folder: Path) -> StudyEvaluation:
    """The evaluated round of a folder without errors."""
    return evaluate(prepare(folder)).studies[0]


def problems(folder: Path) -> dict[str, str]:
    """Code of each problem → the first message with its place."""
    told: dict[str, str] = {}
    for problem in prepare(folder).problems:
        told.setdefault(problem.code, str(problem))
    return told


def scores(study: StudyEvaluation) -> dict[tuple[str, str], dict[str, Any]]:
    """Laboratory and target → the line of the table of scores, by title."""
    table = next(t for t in study.as_reported.tables if t.name == "scores")
    titles = [column.title for column in table.columns]
    return {(row[0], row[1]): dict(zip(titles, row, strict=True)) for row in table.rows}


def remarks(study: StudyEvaluation) -> str:
    """All remarks in one text."""
    return "\n".join(f"{r.kind} {r.level or ''}: {r.text}" for r in study.as_reported.remarks)
