"""Screening: does the test find the samples at the target level, and how many others does it suspect?

Question   From which reading on is a sample suspect, how many at the target level are missed, and how
           many without the analyte are suspect for nothing?
Design     Negative samples and samples at the screening target concentration over several days
           (20 + 20 over 5 days for a first validation), further levels for a detection curve, samples
           that a reference method measures as well.
Findings   cut_off with what it misses and whom it suspects by the formula; shares as counted; levels
           at which 50 and 95 % are suspect; agreement with a reference method.
Criteria   Upper bounds on the shares sorted wrongly, a lower bound on agreement or on a share found.
Sources    (EU) 2023/2782 Annex II for cut-off and false-suspect rate; Clopper and Pearson 1934 (from memory);
           limits by the noncentral t are an own addition.
"""

from __future__ import annotations

from collections.abc import Iterable

from validate.studies.contract import CheckInput, PlanInput, Study, StudyInput
from validate.studies.screening.kinds import FINDINGS
from validate.studies.screening.settings import COLUMNS, ScreeningSettings, columns_of, declared_levels
from validate.vocabulary.bench import StudyPlan
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.problem import Problem


def evaluate(job: StudyInput) -> StudyResult:
    """Findings, tables and pictures of the study (the statistics are loaded here, not for `check`)."""
    from validate.studies.screening.evaluation import evaluate_study

    return evaluate_study(job)


def check(job: CheckInput) -> Iterable[Problem]:
    """What is wrong or worth telling before anything is computed."""
    from validate.studies.screening.checking import problems_of

    return problems_of(job)


def limits(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this design cannot tell, in sentences."""
    from validate.studies.screening.remarks import limits_of_use

    return limits_of_use(job, result)


def plan(job: PlanInput) -> StudyPlan:
    """What the bench is to do."""
    from validate.studies.screening.plan import plan as plan_of

    return plan_of(job)


STUDY = Study(
    kind="screening",
    title="Screening at a target level",
    question="Does the test find the samples at the target level, and how many others does it suspect?",
    settings=ScreeningSettings,
    columns=COLUMNS,
    columns_of=columns_of,
    findings=FINDINGS,
    evaluate=evaluate,
    check=check,
    levels=declared_levels,
    limits=limits,
    plan=plan,
)
