"""Linearity: over which range does the line from level to signal hold, and how well?

Question   How far, in percent of the level, does what the line gives back lie from what was
           there, and over which range does that stay within the bound?
Design     Standards at five or more levels, replicates, possibly on several days; a signal
           (ordinary or weighted line), or the content that an instrument shows against the
           nominal one, or a record of set points of such an instrument.
Findings   largest_deviation (levels and curve), deviation per level, curvature_deviation,
           working range; slope, intercept, residual SD; for information only: lack of fit,
           fitting test, homogeneity of variance, r².
Criteria   An upper bound on largest_deviation or curvature_deviation, a range for deviation.
Sources    Least squares as in any text; ISO 8466-1 (fitting test, s_x0, V_x0; from memory);
           bounds are the laboratory's own.
"""

from __future__ import annotations

from collections.abc import Iterable

from validate.studies.contract import CheckInput, Need, PlanInput, Study, StudyInput
from validate.studies.linearity.findings import FINDINGS
from validate.studies.linearity.settings import COLUMNS, LinearitySettings, columns_of, declared_levels
from validate.vocabulary.bench import StudyPlan
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.problem import Problem

WHY = "the working range does not pass a level at which it is not met"


def evaluate(job: StudyInput) -> StudyResult:
    """Findings, tables and pictures of the study (the statistics are loaded here, not for `check`)."""
    from validate.studies.linearity.evaluation import evaluate_study

    return evaluate_study(job)


def check(job: CheckInput) -> Iterable[Problem]:
    """What is wrong or worth telling before anything is computed."""
    from validate.studies.linearity.checking import problems_of

    return problems_of(job)


def limits(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this design cannot tell, in sentences."""
    from validate.studies.linearity.carried_out import limits_of_use

    return limits_of_use(job, result)


def plan(job: PlanInput) -> StudyPlan:
    """What the bench is to do."""
    from validate.studies.linearity.plan import plan as plan_of

    return plan_of(job)


STUDY = Study(
    kind="linearity",
    title="Linearity and working range",
    question="How far, in percent of the level, does the line lie from the standards, and over which range?",
    settings=LinearitySettings,
    columns=COLUMNS,
    columns_of=columns_of,
    findings=FINDINGS,
    evaluate=evaluate,
    check=check,
    levels=declared_levels,
    expected_by=("validation",),
    limits=limits,
    plan=plan,
    needs=tuple(Need(finding=name, why=WHY) for name in ("mean_recovery", "bias_percent", "rsd_r", "rsd_intermediate")),
)
