"""Precision: how far do results on the same material scatter, and where does it come from?

Question   How close are results to each other under repeatability, and when days, analysts,
           lots or laboratories vary?
Design     Groups of repeated results (one-way), groups within groups (nested) or crossed
           factors, at one or several levels; unequal numbers of results are allowed.
Findings   mean, s_r, rsd_r, r; s_between; by what the outer factor is called s_intermediate,
           s_reproducibility (with R) or s_total, each also relative; HorRat in named forms;
           s_r over a claimed value.
Criteria   Upper bounds on any of them (rsd_r, rsd_intermediate, HorRat …), claims.
Sources    ISO 5725-2, -3, -6 (components, limits, tests); Graybill and Wang (limits of
           sums); Ting et al. (limits of components); statistics conventions in stats/.
"""

from __future__ import annotations

from collections.abc import Iterable

from validate.studies.contract import CheckInput, PlanInput, Study, StudyInput
from validate.studies.precision.kinds import FINDINGS
from validate.studies.precision.settings import PrecisionSettings
from validate.tables.table import Column
from validate.vocabulary.bench import StudyPlan
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.problem import Problem

RESULT = Column(role="result", title="result as read", type="number", unit="method", censored=True)
LEVEL = Column(
    role="level", title="declared level of the material", type="level", unit="method", required=False, minimum=0
)

SAMPLE = Column(
    role="sample", title="code of the portion, for the bench and for amendments", type="label", required=False
)


def columns_of(settings: PrecisionSettings) -> tuple[Column, ...]:
    """The columns of this protocol's table: result, level, one for each factor, and the code of the portion."""
    level = LEVEL if not settings.design.levels else Column(**{**vars(LEVEL), "required": True})
    factors = tuple(
        Column(role=factor.column, title=f"{factor.called} of the result", type="label")
        for factor in settings.conditions
    )
    code = () if any(column.role == SAMPLE.role for column in factors) else (SAMPLE,)
    return (RESULT, level, *factors, *code)


def declared_levels(settings: PrecisionSettings) -> tuple[str, ...]:
    """The levels in the order of the protocol."""
    return settings.design.levels


def evaluate(job: StudyInput) -> StudyResult:
    """Findings, tables and pictures of the study (the statistics are loaded here, not for `check`)."""
    from validate.studies.precision.evaluation import evaluate_study

    return evaluate_study(job)


def check(job: CheckInput) -> Iterable[Problem]:
    """What is wrong or worth telling before anything is computed."""
    from validate.studies.precision.checking import check as problems_of

    return problems_of(job)


def limits(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this design cannot tell, in sentences."""
    from validate.studies.precision.carried_out import limits_of_use

    return limits_of_use(job, result)


def plan(job: PlanInput) -> StudyPlan:
    """What the bench is to do."""
    from validate.studies.precision.plan import plan as planned

    return planned(job)


STUDY = Study(
    kind="precision",
    title="Precision",
    question="How far do results on the same material scatter, and what adds to it?",
    settings=PrecisionSettings,
    columns=(RESULT, LEVEL, SAMPLE),
    findings=FINDINGS,
    evaluate=evaluate,
    levels=declared_levels,
    check=check,
    expected_by=("verification", "validation", "extension", "revalidation"),
    columns_of=columns_of,
    limits=limits,
    plan=plan,
)
