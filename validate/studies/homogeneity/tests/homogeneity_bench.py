"""Small protocols for the tests of homogeneity studies, through the whole pipeline."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from validate.pipeline import evaluate, prepare
from validate.vocabulary.evaluation import Evaluation, Requirement, StudyEvaluation
from validate.vocabulary.problem import InputRefused, Problem

PROTOCOL = """format: 1
id: T
title: Test of homogeneity
issued: 2031-02-03
origin: {{data: invented, statement: Invented for a test.}}
laboratory: Test laboratory (fictional)
purpose: verification
intended_use: quantitative
method: {{measurand: deoxynivalenol, matrix: wheat, unit: µg/kg{method}}}
studies:
  alike:
    kind: homogeneity
    data: {{file: units.csv}}
    sigma_pt: {sigma}
    when_not_sufficient: {consequence}
{more}
"""
TEN = [(100, 102), (101, 99), (98, 100), (103, 101), (100, 100), (99, 101), (102, 100), (97, 99), (101, 101), (100, 98)]


def duplicates(pairs: Iterable[Sequence[float]], *, days: float | None = None, start: int = 1) -> list[str]:
    """Rows of a table: unit, replicate, order, days, result."""
    day = "0" if days is None else f"{days:g}"
    return [f"U{i},{k},{i},{day},{x}" for i, pair in enumerate(pairs, start=start) for k, x in enumerate(pair, 1)]


def write(
    folder: Path,
    rows: Iterable[str],
    *,
    sigma: str = "{value: 10, source: test}",
    consequence: str = "widen",
    method: str = "",
    header: str = "unit,replicate,order,days,result",
    **keys: str,
) -> Path:
    more = "\n".join(f"    {key}: {value}" for key, value in keys.items())
    text = PROTOCOL.format(sigma=sigma, consequence=consequence, method=method, more=more)
    (folder / "protocol.yaml").write_text(text, encoding="utf-8")
    (folder / "units.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return folder


def evaluated(folder: Path, rows: Iterable[str], **keys: str) -> Evaluation:
    return evaluate(prepare(write(folder, rows, **keys)))


def study(evaluation: Evaluation) -> StudyEvaluation:
    (only,) = evaluation.studies
    return only


def requirement(evaluation: Evaluation, finding: str) -> Requirement:
    (only,) = (r for r in evaluation.requirements if r.criterion.finding == finding)
    return only


def problems(folder: Path, rows: Iterable[str], **keys: str) -> tuple[Problem, ...]:
    """Errors and notices of a protocol and its table."""
    try:
        return prepare(write(folder, rows, **keys)).problems
    except InputRefused as refused:
        return refused.problems
