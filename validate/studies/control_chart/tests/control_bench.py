"""Small tables and settings for the tests of control charts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from validate.studies.contract import CheckInput, Method, ReferenceValue, StudyInput
from validate.studies.control_chart.settings import ControlChartSettings
from validate.studies.control_chart.study import STUDY
from validate.tables.table import Table
from validate.vocabulary.evaluation import ResultTable, StudyResult
from validate.vocabulary.finding import Finding
from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem

METHOD = Method(
    measurand="deoxynivalenol",
    unit="µg/kg",
    mass_fraction_per_unit=1e-9,
    resolution=None,
    floor=None,
    limit=None,
    scope_from=None,
    scope_to=None,
    method_defined=False,
)
CERTIFIED = {"CRM": ReferenceValue(material="CRM", value=100.0, u=1.0)}
STEADY = (100 + 5 * np.random.default_rng(20310303).normal(size=40)).round(1).tolist()
"""Forty runs of a steady process, mean 100, SD 5."""


def settings(**keys: Any) -> ControlChartSettings:
    """Settings as a protocol gives them: every scalar is text."""
    whole = {
        "kind": "control_chart",
        "design": {"runs": "40"},
        "limits": {"from": "base period", "base": {"runs": "20"}},
        "rules": ["beyond limits", "run of seven"],
    }
    return ControlChartSettings.model_validate(whole | keys)


def table(values: Sequence[Any], columns: Mapping[str, Sequence[Any]]) -> Table:
    """A table with file rows from 2; texts among the numbers become marks."""
    index = range(2, len(values) + 2)
    frame = pd.DataFrame({"run": [f"R{i}" for i in range(1, len(values) + 1)]}, index=index)
    frame["value"] = [float("nan") if isinstance(value, str) else float(value) for value in values]
    for name, labels in columns.items():
        frame[name] = list(labels)
    marks = pd.DataFrame("", index=frame.index, columns=frame.columns)
    marks["value"] = [value if isinstance(value, str) else "" for value in values]
    return Table("control.csv", frame, marks)


def job(
    values: Sequence[Any] = STEADY,
    *,
    columns: Mapping[str, Sequence[Any]] | None = None,
    method: Mapping[str, Any] | None = None,
    comparisons: int = 1,
    **keys: Any,
) -> StudyInput:
    return StudyInput(
        name="control",
        settings=settings(**keys),
        table=table(values, columns or {}),
        method=replace(METHOD, **(method or {})),
        comparisons=comparisons,
        materials=CERTIFIED,
    )


def evaluate(values: Sequence[Any] = STEADY, **keys: Any) -> StudyResult:
    return STUDY.evaluate(job(values, **keys))


def problems(values: Sequence[Any] | None = STEADY, **keys: Any) -> dict[str, Problem]:
    """What `check` reports, by code without its first word; places are key paths or `row:role`."""
    made = job(values or STEADY, **keys)
    asked = CheckInput(
        name="control",
        settings=made.settings,
        table=None if values is None else made.table,
        method=made.method,
        place=lambda *keys: Place("/".join(map(str, keys))),
        cell=lambda row, role: Place(f"{row}:{role}"),
        materials=CERTIFIED,
    )
    return {problem.code.removeprefix("control-"): problem for problem in STUDY.check(asked)}


def own(finding: str, **bound: Any) -> dict[str, Any]:
    """`accept` with one bound of the laboratory's own."""
    return {finding: {"judge_by": "interval", "source": "own", "reason": "test"} | bound}


def finding_of(result: StudyResult, name: str, level: str | None = None) -> Finding:
    """A finding that must exist."""
    found = result.finding(name, level)
    assert found is not None, (name, level)
    return found


def value(result: StudyResult, name: str, level: str | None = None) -> float:
    found = finding_of(result, name, level).value
    assert found is not None, (name, level)
    return found


def table_of(result: StudyResult, name: str) -> ResultTable:
    return next(table for table in result.tables if table.name == name)


def texts(result: StudyResult, kind: str = "") -> str:
    return "\n".join(remark.text for remark in result.remarks if kind in ("", remark.kind))
