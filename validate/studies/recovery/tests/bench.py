"""Small tables and settings for the tests of recovery studies."""

from __future__ import annotations

from typing import Any

import pandas as pd

from validate.studies.contract import Method, StudyInput
from validate.studies.recovery.settings import RecoverySettings
from validate.studies.recovery.study import STUDY
from validate.tables.table import Table
from validate.vocabulary.evaluation import StudyResult

NUMERIC = ("found", "native")
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


def settings(levels: tuple[str, ...] = ("5",), **more: Any) -> RecoverySettings:
    """Settings as a protocol gives them: every scalar is text."""
    design = {"levels": list(levels), "replicates": "2"} | more.pop("design", {})
    keys = {"kind": "recovery", "design": design, "contamination": "spiked before extraction"}
    return RecoverySettings.model_validate(keys | more)


def table(found: list[float | str], **columns: Any) -> Table:
    """A table with file rows from 2; texts among `found` become marks. `added` defaults to 5."""
    n = len(found)
    columns = {"added": "5"} | columns
    cells = {"found": found} | {k: [v] * n if isinstance(v, str) else list(v) for k, v in columns.items()}
    frame, marks = pd.DataFrame(index=range(2, n + 2)), pd.DataFrame(index=range(2, n + 2))
    for name, values in cells.items():
        numeric = name in NUMERIC
        frame[name] = [v if isinstance(v, float | int) else float("nan") for v in values] if numeric else values
        marks[name] = [v if numeric and isinstance(v, str) else "" for v in values]
    return Table("recovery.csv", frame, marks)


def job(
    found: list[float | str],
    *,
    method: Method = METHOD,
    comparisons: int = 1,
    materials: dict[str, Any] | None = None,
    setting: dict[str, Any] | None = None,
    levels: tuple[str, ...] = ("5",),
    **columns: Any,
) -> StudyInput:
    return StudyInput(
        name="recovery",
        settings=settings(levels, **(setting or {})),
        table=table(found, **columns),
        method=method,
        comparisons=comparisons,
        materials=materials or {},
    )


def evaluate(found: list[float | str], **more: Any) -> StudyResult:
    return STUDY.evaluate(job(found, **more))
