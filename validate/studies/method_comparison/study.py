"""Method comparison: do this method and a reference method agree on the same samples?

Question   By how much does this method differ from the reference method, at the levels that
           matter, and do both decide alike at the limit?
Design     Some 40 samples over the range, natural ones where possible, each measured by both
           methods, once or in replicate.
Findings   method_bias and method_bias_percent at decision levels, slope and intercept of the
           line; mean difference (or ratio) and limits of agreement; agreement of decisions.
Criteria   A range for the bias at a level, bounds on the limits of agreement, a lower bound
           on a share of equal decisions.
Sources    Deming 1943, Linnet 1990; Passing and Bablok 1983; Bland and Altman 1986, 1999
           (all from memory); bounds are the laboratory's own.
"""

from __future__ import annotations

from collections.abc import Iterable

from validate.studies.contract import CheckInput, PlanInput, Study, StudyInput
from validate.studies.method_comparison.kinds import FINDINGS
from validate.studies.method_comparison.settings import COLUMNS, MethodComparisonSettings, declared_levels
from validate.vocabulary.bench import StudyPlan
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.problem import Problem


def evaluate(job: StudyInput) -> StudyResult:
    """Findings, tables and pictures of the study (the statistics are loaded here, not for `check`)."""
    from validate.studies.method_comparison.evaluation import evaluate_study

    return evaluate_study(job)


def check(job: CheckInput) -> Iterable[Problem]:
    """What is wrong or worth telling before anything is computed."""
    from validate.studies.method_comparison.checking import problems_of

    return problems_of(job)


def limits(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this comparison cannot tell, in sentences."""
    from validate.studies.method_comparison.remarks import limits_of_use

    return limits_of_use(job)


def plan(job: PlanInput) -> StudyPlan:
    """What the bench is to do."""
    from validate.studies.method_comparison.plan import plan as plan_of

    return plan_of(job)


STUDY = Study(
    kind="method_comparison",
    title="Comparison with a reference method",
    question="By how much does this method differ from the reference method, and do both decide alike?",
    settings=MethodComparisonSettings,
    columns=COLUMNS,
    findings=FINDINGS,
    evaluate=evaluate,
    check=check,
    levels=declared_levels,
    limits=limits,
    plan=plan,
)
