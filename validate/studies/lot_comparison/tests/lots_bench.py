"""Small tables and settings for the tests of lot comparisons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import pandas as pd

from validate.studies.contract import CheckInput, Method, StudyInput
from validate.studies.lot_comparison.settings import LotComparisonSettings
from validate.studies.lot_comparison.study import STUDY
from validate.tables.table import Table
from validate.vocabulary.evaluation import StudyResult
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
MARGIN = {"percent": "20", "reason": "invented"}
SHIFT = {"percent": "20", "reason": "invented"}
SPREAD = {"rsd_percent": "8", "df": "30", "source": "invented"}
NEW = [51.0, 80, 127, 64, 211, 104, 149, 75, 33, 260]
CURRENT = [48.0, 83, 121, 66, 204, 97, 155, 72, 35, 248]


def equivalence(**more: Any) -> dict[str, Any]:
    design = {"kind": "equivalence"} | more.pop("design", {})
    return {"design": design, "margin": MARGIN} | more


def shift_detection(samples: int = 6, **more: Any) -> dict[str, Any]:
    return {"design": {"kind": "shift detection", "samples": str(samples)}, "shift": SHIFT, "spread": SPREAD} | more


def settings(**keys: Any) -> LotComparisonSettings:
    """Settings as a protocol gives them: every scalar is text."""
    return LotComparisonSettings.model_validate({"kind": "lot_comparison", "new": "B", "current": "A"} | keys)


def pairs(new: Sequence[Any] = NEW, current: Sequence[Any] = CURRENT, **columns: Any) -> dict[str, list[Any]]:
    """Columns of a table: first all results with B, then all with A; further columns hold one cell for each pair."""
    n = len(new)
    made: dict[str, list[Any]] = {
        "sample": [f"S{i}" for i in range(1, n + 1)] * 2,
        "lot": ["B"] * n + ["A"] * n,
        "result": [*new, *current],
    }
    return made | {name: list(cells) * 2 for name, cells in columns.items()}


def joined(*tables: Mapping[str, Sequence[Any]]) -> dict[str, list[Any]]:
    """Rows of several tables under each other; a column that one lacks is empty there."""
    names = dict.fromkeys(name for table in tables for name in table)
    sizes = [len(next(iter(table.values()))) for table in tables]
    return {
        name: [cell for table, n in zip(tables, sizes, strict=True) for cell in table.get(name, [""] * n)]
        for name in names
    }


def table(columns: Mapping[str, Sequence[Any]]) -> Table:
    """A table with file rows from 2; texts among the numbers become marks."""
    index = range(2, len(columns["result"]) + 2)
    frame = pd.DataFrame({name: list(column) for name, column in columns.items()}, index=index)
    marks = pd.DataFrame("", index=frame.index, columns=frame.columns)
    for name in {"result", "added"} & set(columns):
        frame[name] = [float("nan") if isinstance(x, str) else float(x) for x in columns[name]]
        marks[name] = [x if isinstance(x, str) else "" for x in columns[name]]
    return Table("lots.csv", frame, marks)


def job(
    columns: Mapping[str, Sequence[Any]] | None = None,
    *,
    method: Mapping[str, Any] | None = None,
    comparisons: int = 1,
    files: Mapping[str, bytes] | None = None,
    **keys: Any,
) -> StudyInput:
    return StudyInput(
        name="new-lot",
        settings=settings(**(keys or equivalence())),
        table=table(columns or pairs()),
        method=replace(METHOD, **(method or {})),
        comparisons=comparisons,
        files=files or {},
    )


def evaluate(columns: Mapping[str, Sequence[Any]] | None = None, **more: Any) -> StudyResult:
    return STUDY.evaluate(job(columns, **more))


def problems(
    columns: Mapping[str, Sequence[Any]] | None, files: Mapping[str, bytes] | None = None, **keys: Any
) -> tuple[Problem, ...]:
    """What `check` reports; places are the key path or `lots.csv:row:role`."""
    asked = CheckInput(
        name="new-lot",
        settings=settings(**(keys or equivalence())),
        table=None if columns is None else table(columns),
        method=METHOD,
        place=lambda *keys: Place("/".join(map(str, keys))),
        cell=lambda row, role: Place(f"lots.csv:{row}:{role}"),
        files=files or {},
    )
    return tuple(STUDY.check(asked))  # type: ignore[misc, arg-type]


def value(result: StudyResult, name: str, level: str | None = None) -> float:
    """The value of a finding that must exist."""
    finding = result.finding(name, level)
    assert finding is not None and finding.value is not None, (name, finding)
    return finding.value
