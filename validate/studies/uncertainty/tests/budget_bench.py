"""Needed findings and settings for the tests of uncertainty studies."""

from __future__ import annotations

from typing import Any

from validate.studies.contract import Method, NeededFinding, StudyInput
from validate.studies.uncertainty.settings import UncertaintySettings
from validate.studies.uncertainty.study import STUDY
from validate.tables.table import Table
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.finding import Finding, Sampling

METHOD = Method(
    measurand="ochratoxin A",
    unit="µg/kg",
    mass_fraction_per_unit=1e-9,
    resolution=None,
    floor=None,
    limit=5.0,
    scope_from=None,
    scope_to=None,
    method_defined=False,
)


def settings(**more: Any) -> UncertaintySettings:
    """Settings as a protocol gives them: every scalar is text."""
    return UncertaintySettings.model_validate({"kind": "uncertainty", "levels": ["5"]} | more)


def needed(
    name: str,
    value: float | None,
    level: str | None = "5",
    *,
    study: str = "recovery",
    se: float | None = None,
    df: float | None = 9.0,
    groups: int | None = 12,
    blocked: tuple[str, ...] = (),
) -> NeededFinding:
    finding = Finding(
        name=name,
        level=level,
        value=value,
        unit="µg/kg",
        reason=None if value is not None else "constructed",
        blocked=blocked,
        df=df,
        groups=groups,
        formula="constructed",
        source="constructed",
        sampling=None if se is None else Sampling(kind="mean", se=se, df=df),
    )
    return NeededFinding(study=study, finding=finding, verdicts=())


PRECISION = needed("s_intermediate", 0.4)
BIAS = needed("bias", -0.3, se=0.1)
RECOVERY = needed("mean_recovery", 94.0, se=2.0)


def job(
    *found: NeededFinding, method: Method = METHOD, table: Table | None = None, comparisons: int = 1, **setting: Any
) -> StudyInput:
    return StudyInput(
        name="uncertainty",
        settings=settings(**setting),
        table=table,
        method=method,
        comparisons=comparisons,
        needed=found,
    )


def evaluate(*found: NeededFinding, **more: Any) -> StudyResult:
    return STUDY.evaluate(job(*found, **more))


def lines(result: StudyResult, name: str) -> list[tuple[Any, ...]]:
    return list(next(table for table in result.tables if table.name == name).rows)
