"""Small tables and settings for the tests of precision studies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd

from validate.studies.contract import CheckInput, Method, StudyInput
from validate.studies.precision.settings import PrecisionSettings
from validate.studies.precision.study import STUDY
from validate.tables.table import Table
from validate.vocabulary.evaluation import StudyResult
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
ONE_WAY = {"kind": "one-way", "outer": {"column": "day", "called": "day"}}
DAYS = [(10.1, 10.3), (9.6, 9.9), (10.8, 10.6), (10.0, 9.7), (10.4, 10.9)]
"""The worked example of the project's statistics notes: MS_b 0.3865, MS_w 0.0510."""


def nested(outer: str = "day", inner: str = "run") -> dict[str, Any]:
    return {
        "kind": "nested",
        "outer": {"column": outer, "called": outer},
        "inner": [{"column": inner, "called": inner}],
    }


def crossed(*names: str) -> dict[str, Any]:
    first, *others = names
    return {
        "kind": "crossed",
        "outer": {"column": first, "called": first},
        "inner": [{"column": name, "called": name} for name in others],
    }


def grouped(groups: Sequence[Sequence[float | str]], column: str = "day") -> dict[str, list[Any]]:
    """Columns of a one-way table from its groups."""
    return {
        "result": [x for group in groups for x in group],
        column: [str(i) for i, group in enumerate(groups, start=1) for _ in group],
    }


def table(columns: Mapping[str, Sequence[Any]]) -> Table:
    """A table with file rows from 2; texts among the results become marks."""
    results = columns["result"]
    index = range(2, len(results) + 2)
    frame = pd.DataFrame({name: list(column) for name, column in columns.items()}, index=index)
    frame["result"] = [float("nan") if isinstance(x, str) else float(x) for x in results]
    marks = pd.DataFrame("", index=frame.index, columns=frame.columns)
    marks["result"] = [x if isinstance(x, str) else "" for x in results]
    return Table("precision.csv", frame, marks)


def settings(design: Mapping[str, Any], **more: Any) -> PrecisionSettings:
    """Settings as a protocol gives them: every scalar is text."""
    return PrecisionSettings.model_validate({"kind": "precision", "design": design} | more)


def evaluate(
    columns: Mapping[str, Sequence[Any]],
    design: Mapping[str, Any] = ONE_WAY,
    *,
    comparisons: int = 1,
    method: Mapping[str, Any] | None = None,
    **more: Any,
) -> StudyResult:
    job = StudyInput(
        name="precision",
        settings=settings(design, **more),
        table=table(columns),
        method=replace(METHOD, **(method or {})),
        comparisons=comparisons,
    )
    return STUDY.evaluate(job)


def problems(
    columns: Mapping[str, Sequence[Any]] | None, design: Mapping[str, Any] = ONE_WAY, **more: Any
) -> tuple[Problem, ...]:
    """What `check` reports; places are the key path or `precision.csv:row:role`."""
    asked = CheckInput(
        name="precision",
        settings=settings(design, **more),
        table=None if columns is None else table(columns),
        method=METHOD,
        place=lambda *keys: Place("/".join(map(str, keys))),
        cell=lambda row, role: Place(f"precision.csv:{row}:{role}"),
    )
    return tuple(STUDY.check(asked))  # type: ignore[misc, arg-type]


def value(result: StudyResult, name: str, level: str | None = None) -> float:
    """The value of a finding that must exist."""
    finding = result.finding(name, level)
    assert finding is not None and finding.value is not None, (name, finding)
    return finding.value
