"""Small tables and settings for the tests of method comparisons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import pandas as pd

from validate.studies.contract import CheckInput, Method, StudyInput
from validate.studies.method_comparison.settings import MethodComparisonSettings
from validate.studies.method_comparison.study import STUDY
from validate.tables.table import Table
from validate.vocabulary.evaluation import ResultTable, StudyResult
from validate.vocabulary.finding import Finding
from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem

METHOD = Method(
    measurand="zearalenone",
    unit="µg/kg",
    mass_fraction_per_unit=1e-9,
    resolution=None,
    floor=None,
    limit=None,
    scope_from=None,
    scope_to=None,
    method_defined=False,
)
X = [20.0, 25, 31, 38, 44, 52, 57, 63, 70, 76, 81, 88, 93, 99, 105, 112, 118, 124, 131, 137, 142, 150, 155, 163]
Y = [22.0, 24, 33, 40, 43, 55, 60, 62, 74, 79, 80, 92, 97, 98, 110, 114, 123, 125, 137, 139, 150, 152, 160, 171]
"""Constructed: 24 samples, about 1.04·x."""


def settings(**keys: Any) -> MethodComparisonSettings:
    """Settings as a protocol gives them: every scalar is text."""
    whole = {
        "kind": "method_comparison",
        "reference": "HPLC",
        "design": {"samples": "24"},
        "line": {"by": "Deming", "variance_ratio": "1"},
    }
    return MethodComparisonSettings.model_validate(whole | keys)


def table(reference: Sequence[Any], found: Sequence[Any], columns: Mapping[str, Sequence[Any]]) -> Table:
    """A table with file rows from 2; texts among the numbers become marks."""
    index = range(2, len(reference) + 2)
    frame = pd.DataFrame({"sample": [f"S{i}" for i in range(1, len(reference) + 1)]}, index=index)
    marks = pd.DataFrame("", index=frame.index, columns=["sample", "reference", "found", *columns])
    for role, values in (("reference", reference), ("found", found)):
        frame[role] = [float("nan") if isinstance(value, str) else float(value) for value in values]
        marks[role] = [value if isinstance(value, str) else "" for value in values]
    for name, values in columns.items():
        frame[name] = list(values)
    return Table("samples.csv", frame, marks)


def job(
    reference: Sequence[Any] = X,
    found: Sequence[Any] = Y,
    *,
    method: Mapping[str, Any] | None = None,
    columns: Mapping[str, Sequence[Any]] | None = None,
    comparisons: int = 1,
    **keys: Any,
) -> StudyInput:
    return StudyInput(
        name="comparison",
        settings=settings(**keys),
        table=table(reference, found, columns or {}),
        method=replace(METHOD, **(method or {})),
        comparisons=comparisons,
    )


def evaluate(reference: Sequence[Any] = X, found: Sequence[Any] = Y, **keys: Any) -> StudyResult:
    return STUDY.evaluate(job(reference, found, **keys))


def problems(reference: Sequence[Any] | None = X, found: Sequence[Any] = Y, **keys: Any) -> dict[str, Problem]:
    """What `check` reports, by code without its first word; places are key paths or `row:role`."""
    made = job(reference or X, found, **keys)
    asked = CheckInput(
        name="comparison",
        settings=made.settings,
        table=None if reference is None else made.table,
        method=made.method,
        place=lambda *keys: Place("/".join(map(str, keys))),
        cell=lambda row, role: Place(f"{row}:{role}"),
    )
    return {problem.code.removeprefix("comparison-"): problem for problem in STUDY.check(asked)}


def own(finding: str, **bound: Any) -> dict[str, Any]:
    """`accept` with one bound of the laboratory's own."""
    return {finding: {"judge_by": "interval", "source": "own", "reason": "test"} | bound}


def finding_of(result: StudyResult, name: str, level: str | None = None) -> Finding:
    """A finding that must exist."""
    found = result.finding(name, level)
    assert found is not None, (name, level)
    return found


def table_of(result: StudyResult, name: str) -> ResultTable:
    return next(table for table in result.tables if table.name == name)


def texts(result: StudyResult) -> str:
    return "\n".join(remark.text for remark in result.remarks)
