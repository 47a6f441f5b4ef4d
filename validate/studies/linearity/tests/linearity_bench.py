"""Small tables and settings for the tests of linearity studies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd

from validate.protocol.fields import level_text
from validate.studies.contract import CheckInput, Method, NeededFinding, StudyInput
from validate.studies.linearity.settings import LinearitySettings
from validate.studies.linearity.study import STUDY
from validate.tables.table import Table
from validate.vocabulary.evaluation import ResultTable, StudyResult
from validate.vocabulary.finding import Finding
from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem

ROOT = Path(__file__).parents[4]
METHOD = Method(
    measurand="ochratoxin A",
    unit="µg/kg",
    mass_fraction_per_unit=1e-9,
    resolution=None,
    floor=None,
    limit=None,
    scope_from=None,
    scope_to=None,
    method_defined=False,
)
X = [1, 1, 2, 2, 5, 5, 10, 10, 20, 20, 40, 40]
Y = [2.2, 2.4, 4.3, 4.1, 10.4, 10.0, 20.5, 20.1, 40.1, 41.0, 80.6, 81.5]
"""Constructed: about 0.2 + 2·x, six levels in duplicate."""
Columns = Mapping[str, Sequence[Any]]


def settings(levels: Sequence[str], **more: Any) -> LinearitySettings:
    """Settings as a protocol gives them: every scalar is text."""
    design = {"levels": list(levels), "replicates": "2"} | more.pop("design", {})
    return LinearitySettings.model_validate({"kind": "linearity", "design": design} | more)


def table(x: Sequence[float], y: Sequence[float | str], role: str, columns: Columns) -> Table:
    """A table with file rows from 2; texts among the readings become marks."""
    index = range(2, len(x) + 2)
    frame = pd.DataFrame({"level": [level_text(str(value)) for value in x]}, index=index)
    frame[role] = [float("nan") if isinstance(value, str) else float(value) for value in y]
    marks = pd.DataFrame("", index=frame.index, columns=frame.columns)
    marks[role] = [value if isinstance(value, str) else "" for value in y]
    for name, values in columns.items():
        frame[name], marks[name] = list(values), ""
    return Table("linearity.csv", frame, marks)


def job(
    x: Sequence[float] = X,
    y: Sequence[float | str] = Y,
    *,
    levels: Sequence[str] | None = None,
    method: Mapping[str, Any] | None = None,
    comparisons: int = 1,
    needed: tuple[NeededFinding, ...] = (),
    columns: Columns | None = None,
    **more: Any,
) -> StudyInput:
    declared = levels or sorted({level_text(str(value)) for value in x}, key=float)
    made = settings(declared, **more)
    role = "signal" if made.form == "signal" else "found"
    return StudyInput(
        name="linearity",
        settings=made,
        table=table(x, y, role, columns or {}),
        method=replace(METHOD, **(method or {})),
        comparisons=comparisons,
        needed=needed,
    )


def evaluate(x: Sequence[float] = X, y: Sequence[float | str] = Y, **more: Any) -> StudyResult:
    return STUDY.evaluate(job(x, y, **more))


def problems(
    x: Sequence[float] | None = None, y: Sequence[float | str] | None = None, *, levels: Sequence[str] | None = None,
    **more: Any,
) -> dict[str, Problem]:  # fmt: skip
    """What `check` reports, by code without its first word; places are key paths or `row:role`."""
    made = job(x or X, y or Y, levels=levels, **more)
    asked = CheckInput(
        name="linearity",
        settings=made.settings,
        table=None if x is None else made.table,
        method=made.method,
        place=lambda *keys: Place("/".join(map(str, keys))),
        cell=lambda row, role: Place(f"{row}:{role}"),
    )
    return {problem.code.removeprefix("linearity-"): problem for problem in STUDY.check(asked)}


def own(finding: str, *, by: str = "interval", **bound: Any) -> dict[str, Any]:
    """`accept` with one bound of the laboratory's own."""
    return {finding: {"judge_by": by, "source": "own", "reason": "test"} | bound}


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


def texts(result: StudyResult) -> str:
    return "\n".join(remark.text for remark in result.remarks)
