"""Detection: which content does the method tell from nothing, and from which on does it measure?

Question   What is the smallest content that is told from a blank, and the smallest measured well enough?
Design     Blanks (20 or more over 3 days or more for a claim), samples spiked at and below the
           expected limit, standards where a calibration exists; or samples that the test
           itself calls detected or not.
Findings   lod and loq by the claimed approaches; critical_value; limits from blanks, low-level
           samples, calibration, counted samples and their curve, the MDL, shortcuts with
           their SD named; false_positive_rate, detection_rate by level.
Criteria   An upper bound or a claim on lod or loq; it is judged by the samples near it.
Sources    Currie 1995, ISO 11843-1 and -2, 40 CFR 136 Appendix B, ICH Q2(R1), Clopper and
           Pearson 1934; most from memory, as each figure says.
"""

from __future__ import annotations

from collections.abc import Iterable

from validate.studies.contract import CheckInput, Need, PlanInput, Study, StudyInput
from validate.studies.detection.kinds import FINDINGS
from validate.studies.detection.settings import COLUMNS, QUALITIES, DetectionSettings, columns_of, declared_levels
from validate.vocabulary.bench import StudyPlan
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.problem import Problem

WHY = "the quantification limit is the lowest level at which it is met"


def evaluate(job: StudyInput) -> StudyResult:
    """Findings, tables and pictures of the study (the statistics are loaded here, not for `check`)."""
    from validate.studies.detection.evaluation import evaluate_study

    return evaluate_study(job)


def check(job: CheckInput) -> Iterable[Problem]:
    """What is wrong or worth telling before anything is computed."""
    from validate.studies.detection.checking import problems_of

    return problems_of(job)


def limits(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this design cannot tell, in sentences."""
    from validate.studies.detection.carried_out import limits_of_use

    return limits_of_use(job, result)


def plan(job: PlanInput) -> StudyPlan:
    """What the bench is to do."""
    from validate.studies.detection.plan import plan as plan_of

    return plan_of(job)


STUDY = Study(
    kind="detection",
    title="Limits of detection and quantification",
    question="Which content does the method tell from nothing, and from which on does it measure well enough?",
    settings=DetectionSettings,
    columns=COLUMNS,
    columns_of=columns_of,
    findings=FINDINGS,
    evaluate=evaluate,
    check=check,
    levels=declared_levels,
    expected_by=("verification", "validation", "extension"),
    limits=limits,
    plan=plan,
    needs=tuple(Need(finding=name, why=WHY) for name in QUALITIES),
)
