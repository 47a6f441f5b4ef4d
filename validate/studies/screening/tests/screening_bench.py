"""Small tables and settings for the tests of screening studies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from validate.studies.contract import CheckInput, Method, StudyInput
from validate.studies.screening.settings import ScreeningSettings
from validate.studies.screening.study import STUDY
from validate.tables.table import Table
from validate.vocabulary.evaluation import ResultTable, StudyResult
from validate.vocabulary.finding import Finding
from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem

METHOD = Method(
    measurand="aflatoxin B1",
    unit="µg/kg",
    mass_fraction_per_unit=1e-9,
    resolution=None,
    floor=None,
    limit=5.0,
    scope_from=None,
    scope_to=None,
    method_defined=False,
)
Results = Sequence[float | str]


def spread(mean: float, sd: float, n: int = 20) -> list[float]:
    """n evenly spaced readings with this mean and standard deviation."""
    x = np.arange(float(n))
    return (mean + sd * (x - x.mean()) / x.std(ddof=1)).tolist()


NEGATIVE, POSITIVE = spread(0.6, 0.9), spread(5, 0.8)
"""The constructed example: cut-off 3.6167, t of the negatives 3.3519, false-suspect rate 0.1675 %."""
LEVELS: dict[str, Results] = {"0": NEGATIVE, "5": POSITIVE}


def settings(**keys: Any) -> ScreeningSettings:
    """Settings as a protocol gives them: every scalar is text."""
    whole: dict[str, Any] = {
        "kind": "screening",
        "target": "5.0",
        "reads": "content",
        "response": "proportional",
        "design": {"negatives": "20", "positives": "20"},
    }
    whole |= keys
    return ScreeningSettings.model_validate({key: value for key, value in whole.items() if value is not None})


def table(by_level: Mapping[str, Results], role: str, columns: Mapping[str, Any]) -> Table:
    """A table with file rows from 2, level by level; texts among numbers become marks, words of a decision stay."""
    results = [value for values in by_level.values() for value in values]
    frame = pd.DataFrame({"level": [level for level, values in by_level.items() for _ in values]},
                         index=range(2, len(results) + 2))  # fmt: skip
    marks = pd.DataFrame("", index=frame.index, columns=["level"])
    is_text = role == "suspect"
    frame[role] = results if is_text else [float("nan") if isinstance(v, str) else float(v) for v in results]
    marks[role] = [v if isinstance(v, str) and not is_text else "" for v in results]
    for name, values in columns.items():
        frame[name], marks[name] = [values] * len(frame) if isinstance(values, str) else list(values), ""
    return Table("screening.csv", frame, marks)


def job(
    by_level: Mapping[str, Results] = LEVELS,
    *,
    method: Mapping[str, Any] | None = None,
    columns: Mapping[str, Any] | None = None,
    comparisons: int = 1,
    **keys: Any,
) -> StudyInput:
    made = settings(**keys)
    return StudyInput(
        name="screening",
        settings=made,
        table=table(by_level, made.role, columns or {}),
        method=replace(METHOD, **(method or {})),
        comparisons=comparisons,
    )


def evaluate(by_level: Mapping[str, Results] = LEVELS, **keys: Any) -> StudyResult:
    return STUDY.evaluate(job(by_level, **keys))


def problems(by_level: Mapping[str, Results] = LEVELS, **keys: Any) -> dict[str, list[Problem]]:
    """What `check` reports, by code without its first word; places are key paths or `row:role`."""
    made = job(by_level, **keys)
    asked = CheckInput(
        name="screening",
        settings=made.settings,
        table=made.table,
        method=made.method,
        place=lambda *keys: Place("/".join(map(str, keys))),
        cell=lambda row, role: Place(f"{row}:{role}"),
    )
    found: dict[str, list[Problem]] = {}
    for problem in STUDY.check(asked):
        found.setdefault(problem.code.removeprefix("screening-"), []).append(problem)
    return found


def finding_of(result: StudyResult, name: str, level: str | None = None) -> Finding:
    """A finding that must exist."""
    found = result.finding(name, level)
    assert found is not None, (name, level)
    return found


def table_of(result: StudyResult, name: str) -> ResultTable:
    return next(each for each in result.tables if each.name == name)


def texts(result: StudyResult) -> str:
    return "\n".join(remark.text for remark in result.remarks)
