"""Lot comparison: does a new lot (analyst, instrument, site) read like the current one?

Question   Do results with the new lot agree with those of the current one, closely enough
           for the use?
Design     Native samples at low, middle and high level, each measured with both in one run
           (pairs), or two samples of results. Two declared designs: `equivalence` proves
           sameness within a margin; `shift detection` takes few pairs and finds shifts.
Findings   lot_ratio or lot_difference by level and over all (new_… for other factors),
           lot_shift; precision_ratio, slope, changed_decisions, control_mean,
           blank_highest, column_recovery; with earlier lots to_validation, s_between_lots,
           drift_per_lot.
Criteria   Margin or shift give the one that decides; bounds on any other finding may be added.
Sources    Schuirmann (1987) for two one-sided tests (from memory); margins and shifts are
           the laboratory's own.
"""

from __future__ import annotations

from collections.abc import Iterable

from validate.studies.contract import CheckInput, PlanInput, Study, StudyInput
from validate.studies.lot_comparison.columns import AFTER, BEFORE, columns_of, factor_column
from validate.studies.lot_comparison.concluding import conclude
from validate.studies.lot_comparison.kinds import FINDINGS
from validate.studies.lot_comparison.settings import LotComparisonSettings
from validate.vocabulary.bench import StudyPlan
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.problem import Problem


def declared_levels(settings: LotComparisonSettings) -> tuple[str, ...]:
    """The levels in the order of the protocol."""
    return settings.design.levels


def evaluate(job: StudyInput) -> StudyResult:
    """Findings, tables and pictures (the statistics are loaded here, not for `check`)."""
    from validate.studies.lot_comparison.evaluation import evaluate_study

    return evaluate_study(job)


def check(asked: CheckInput) -> Iterable[Problem]:
    """What is wrong or worth telling before anything is computed."""
    from validate.studies.lot_comparison.checking import check as problems_of

    return problems_of(asked)


def limits(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this design cannot tell, in sentences."""
    from validate.studies.lot_comparison.carried_out import limits_of_use

    return limits_of_use(job, result)


def plan(job: PlanInput) -> StudyPlan:
    """What the bench is to do."""
    from validate.studies.lot_comparison.plan import plan as plan_of

    return plan_of(job)


def files(settings: LotComparisonSettings) -> tuple[str, ...]:
    """The evaluations of earlier lots."""
    return tuple(entry.file for entry in settings.history)


STUDY = Study(
    kind="lot_comparison",
    title="Comparison of lots",
    question="Do results with the new one agree with those of the current one, closely enough for the use?",
    settings=LotComparisonSettings,
    columns=(*BEFORE, factor_column("lot"), *AFTER),
    columns_of=columns_of,
    findings=FINDINGS,
    evaluate=evaluate,
    levels=declared_levels,
    check=check,
    expected_by=("lot",),
    limits=limits,
    plan=plan,
    files=files,
    conclude=conclude,
)
