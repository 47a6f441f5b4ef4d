"""A constructed kind of study, protocols that use it, and findings to judge."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import pytest

from validate.criteria.resolving import Resolution, resolve
from validate.protocol.fields import LevelText
from validate.protocol.loading import LoadedProtocol, load_protocol
from validate.protocol.settings import StudySettings
from validate.studies.contract import Method, Study
from validate.vocabulary.evaluation import Criterion, StudyResult
from validate.vocabulary.finding import Finding, FindingKind, Interval, Sampling
from validate.vocabulary.quantity import mass_fraction_per_unit
from validate.vocabulary.verdict import JudgeBy


class TrialSettings(StudySettings):
    kind: Literal["trial"]
    levels: tuple[LevelText, ...] = ()


def _kind(name: str, unit: str = "%", characteristic: str = "trueness", **more: object) -> FindingKind:
    words = {"title": name.replace("_", " "), "symbol": name, "per_level": True} | more
    return FindingKind(name=name, unit=unit, characteristic=characteristic, **words)


TRIAL = Study(
    kind="trial",
    title="Constructed trial",
    question="Does the judge keep its rules?",
    settings=TrialSettings,
    columns=(),
    findings=(
        _kind("mean_recovery", minimum_n=5),
        _kind("rsd_r", characteristic="repeatability", minimum_n=5),
        _kind("rsd_intermediate", characteristic="intermediate_precision", minimum_n=5, minimum_groups=5),
        _kind("rsd_reproducibility", characteristic="reproducibility"),
        _kind("bias", unit="method"),
        _kind("loq", unit="method", characteristic="limit_of_quantification", per_level=False),
        _kind("false_suspect_rate", characteristic="screening_performance", per_level=False),
        _kind("horrat_r-over-PRSD_R_horwitz-aoac", unit="", characteristic="repeatability", lower_bound_is_query=True),
    ),
    evaluate=lambda _: StudyResult(findings=()),
    levels=lambda settings: settings.levels,
)

PROTOCOL = """\
format: 1
id: T-1
title: Constructed protocol
issued: {issued}
laboratory: A fictional laboratory
purpose: {purpose}
intended_use: {intended_use}
method:
  measurand: {measurand}
  matrix: {matrix}
  unit: {unit}
{method}
use: {use}
{claims}
studies:
{studies}
"""

STUDY = """\
  {name}:
    kind: trial
    levels: {levels}
    accept: {accept}
"""


@dataclass(frozen=True)
class Asked:
    """A loaded protocol with its resolution."""

    loaded: LoadedProtocol
    studies: dict[str, Study]
    resolution: Resolution

    @property
    def criteria(self) -> tuple[Criterion, ...]:
        return self.resolution.criteria

    @property
    def codes(self) -> list[str]:
        return [problem.code for problem in self.resolution.problems]

    @property
    def errors(self) -> list[str]:
        return [problem.code for problem in self.resolution.problems if problem.severity == "error"]

    def problem(self, code: str) -> str:
        return str(next(problem for problem in self.resolution.problems if problem.code == code))


@pytest.fixture
def ask(tmp_path: Path):
    """Write a protocol with the given parts, load and resolve it."""

    def ask_protocol(accept: str = "{}", *, levels: str = "[5]", more: str = "", **parts: str) -> Asked:
        words = {
            "issued": "2031-03-03",
            "purpose": "validation",
            "intended_use": "quantitative",
            "measurand": "ochratoxin A",
            "matrix": "green coffee",
            "unit": "µg/kg",
            "method": "",
            "use": "eu-2023-2782",
            "claims": "",
            "studies": STUDY.format(name="trial", levels=levels, accept=accept) + more,
        } | parts
        path = tmp_path / "protocol.yaml"
        path.write_text(PROTOCOL.format(**words), encoding="utf-8")
        loaded = load_protocol(path, {"trial": TrialSettings})
        assert loaded.protocol is not None, [str(problem) for problem in loaded.problems]
        studies = dict.fromkeys(loaded.protocol.studies, TRIAL)
        settings = loaded.protocol.method
        method = Method(
            measurand=settings.measurand,
            unit=settings.unit,
            mass_fraction_per_unit=mass_fraction_per_unit(settings.unit),
            resolution=None,
            floor=None,
            limit=settings.limit.value if settings.limit else None,
            scope_from=None,
            scope_to=None,
            method_defined=settings.defined_by_method,
        )
        return Asked(loaded, studies, resolve(loaded, studies, method))

    return ask_protocol


@pytest.fixture
def finding():
    """A finding of the trial at level 5; `met` and `not_met` are (low, high)."""

    def make(
        value: float | None,
        name: str = "rsd_r",
        *,
        met: tuple[float | None, float | None] | None = None,
        not_met: tuple[float | None, float | None] | None = None,
        level: str | None = "5",
        n: int | None = 6,
        groups: int | None = 6,
        sampling: Sampling | None = None,
        method: str = "constructed",
        **more: object,
    ) -> Finding:
        ends = {"met": (met, 0.90), "not_met": (not_met or met, 0.98)}
        intervals = tuple(
            Interval(use=use, level=share, low=limits[0], high=limits[1], method=method)
            for use, (limits, share) in ends.items()
            if limits is not None
        )
        return Finding(
            name=name, level=level, value=value, unit="%", intervals=intervals, n=n, groups=groups,
            formula="constructed", source="constructed", sampling=sampling, **more,
        )  # fmt: skip

    return make


@pytest.fixture
def criterion():
    """A criterion of the trial at level 5."""

    def make(name: str = "rsd_r", low: float | None = None, high: float | None = None, **more: object) -> Criterion:
        words = {
            "kind": "criterion",
            "study": "trial",
            "level": "5",
            "unit": "%",
            "wording": "constructed",
            "judge_by": JudgeBy.ESTIMATE,
            "source": "a constructed guide",
        } | more
        return Criterion(finding=name, low=low, high=high, **words)

    return make


@pytest.fixture
def judged():
    """The judgement on one criterion given some findings of the trial."""
    from validate.criteria.judging import judge

    def judge_one(criterion: Criterion, *findings: Finding):
        return judge(criterion, {"trial": StudyResult(findings=findings)}, {"trial": TRIAL})

    return judge_one


@pytest.fixture
def judged_all():
    """The judgements on several criteria given some findings of the trial."""
    from validate.criteria.judging import judge_all

    def judge_several(criteria, *findings: Finding):
        return judge_all(criteria, {"trial": StudyResult(findings=findings)}, {"trial": TRIAL})

    return judge_several
