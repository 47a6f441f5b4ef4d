"""Control chart: is a control material, measured again and again, still what it was?

Question   Does the method give today what it gave when it was validated, and how far do its
           results scatter over lots, calibrations and months?
Design     A control material or check standard in every run, one reading or several; limits
           from a stated base period or from a certified value.
Findings   Centre, spread and limits; signals by the declared rules; s_intermediate and
           s_long_term with their relative forms (uncertainty uses them); bias against a
           certified value; triggers for revalidation that have fired.
Criteria   Upper bounds on standard deviations, a range for the bias, a count of signals.
Sources    ISO 7870-2, -4 and -6 (from memory); bounds are the laboratory's own.
"""

from __future__ import annotations

from collections.abc import Iterable

from validate.studies.contract import CheckInput, PlanInput, Study, StudyInput
from validate.studies.control_chart.kinds import FINDINGS
from validate.studies.control_chart.settings import COLUMNS, ControlChartSettings, declared_levels
from validate.vocabulary.bench import StudyPlan
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.problem import Problem


def evaluate(job: StudyInput) -> StudyResult:
    """Findings, tables and pictures of the study (the statistics are loaded here, not for `check`)."""
    from validate.studies.control_chart.evaluation import evaluate_study

    return evaluate_study(job)


def check(job: CheckInput) -> Iterable[Problem]:
    """What is wrong or worth telling before anything is computed."""
    from validate.studies.control_chart.checking import problems_of

    return problems_of(job)


def limits(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this chart cannot tell, in sentences."""
    from validate.studies.control_chart.remarks import limits_of_use

    return limits_of_use(job)


def plan(job: PlanInput) -> StudyPlan:
    """What the bench is to do."""
    from validate.studies.control_chart.plan import plan as plan_of

    return plan_of(job)


STUDY = Study(
    kind="control_chart",
    title="Control chart",
    question="Does the method still give what it gave, and how far do its results scatter over time?",
    settings=ControlChartSettings,
    columns=COLUMNS,
    findings=FINDINGS,
    evaluate=evaluate,
    check=check,
    levels=declared_levels,
    limits=limits,
    plan=plan,
)
