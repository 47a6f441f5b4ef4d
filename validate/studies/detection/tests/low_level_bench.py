"""Small tables and settings for the tests of detection studies."""

from __future__ import annotations

from typing import Any

import pandas as pd

from validate.studies.contract import Method, NeededFinding, StudyInput
from validate.studies.detection.settings import DetectionSettings
from validate.studies.detection.study import STUDY
from validate.tables.table import Table
from validate.vocabulary.evaluation import StudyResult

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
BLANKS = [0.10, 0.30, 0.20, 0.20, 0.40, 0.10, 0.30, 0.20, 0.10, 0.30]
"""s 0.1033, mean 0.22; the published factor for 9 degrees of freedom is 3.5754."""
DAYS = list("aaabbbcccd")
Results = list[float | str]


def settings(**more: Any) -> DetectionSettings:
    """Settings as a protocol gives them: every scalar is text."""
    keys: dict[str, Any] = {"kind": "detection", "design": {"blanks": "10"}, "lod": {"by": "blanks"}}
    return DetectionSettings.model_validate(keys | more)


def table(by_level: dict[str, Results], role: str = "found", **columns: Any) -> Table:
    """A table with file rows from 2, level by level; texts among the results become marks."""
    levels = [level for level, values in by_level.items() for _ in values]
    results = [value for values in by_level.values() for value in values]
    n = len(results)
    frame, marks = pd.DataFrame(index=range(2, n + 2)), pd.DataFrame(index=range(2, n + 2))
    frame["level"], marks["level"] = levels, ""
    frame[role] = [v if isinstance(v, float | int) else float("nan") for v in results]
    marks[role] = [v if isinstance(v, str) else "" for v in results]
    for name, values in columns.items():
        frame[name], marks[name] = [values] * n if isinstance(values, str) else list(values), ""
    return Table("detection.csv", frame, marks)


def job(
    by_level: dict[str, Results],
    *,
    method: Method = METHOD,
    comparisons: int = 1,
    needed: tuple[NeededFinding, ...] = (),
    setting: dict[str, Any] | None = None,
    role: str = "found",
    **columns: Any,
) -> StudyInput:
    levels = [level for level in by_level if float(level) > 0]
    given = dict(setting or {})
    design = {"blanks": "10", "levels": levels, "replicates": "10"} | given.pop("design", {})
    return StudyInput(
        name="detection",
        settings=settings(design=design, **given),
        table=table(by_level, role, **columns),
        method=method,
        comparisons=comparisons,
        needed=needed,
    )


def evaluate(by_level: dict[str, Results], **more: Any) -> StudyResult:
    return STUDY.evaluate(job(by_level, **more))


def lines(result: StudyResult, name: str) -> list[tuple[Any, ...]]:
    return list(next(table for table in result.tables if table.name == name).rows)
