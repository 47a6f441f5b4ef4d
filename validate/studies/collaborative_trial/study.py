"""Collaborative trial: how well do results of different laboratories agree, and what is the method's precision?

Question   What are repeatability and reproducibility of the method, level by level?
Design     Eight or more laboratories; repeated results at each level (also in runs), split
           levels with two nearly equal samples, or counts of detections.
Findings   mean, s_r, rsd_r, r, s_L, s_reproducibility, rsd_reproducibility, R, HorRat in
           named forms; with runs s_intermediate; of counts lpod, pod_s_r, pod_s_L, pod_s_R.
Criteria   Upper bounds on any of them, HorRat ranges, claims.
Sources    ISO 5725-2, -3, -5, -6 (from memory); AOAC Appendix J (2012) for counts.
"""

from __future__ import annotations

from collections.abc import Iterable

from validate.studies.collaborative_trial.columns import COLUMNS, columns_of
from validate.studies.collaborative_trial.kinds import FINDINGS
from validate.studies.collaborative_trial.settings import CollaborativeTrialSettings
from validate.studies.contract import CheckInput, PlanInput, Study, StudyInput
from validate.vocabulary.bench import StudyPlan
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.problem import Problem


def evaluate(job: StudyInput) -> StudyResult:
    """Findings, tables and pictures of the study (the statistics are loaded here, not for `check`)."""
    from validate.studies.collaborative_trial.evaluation import evaluate_study

    return evaluate_study(job)


def check(job: CheckInput) -> Iterable[Problem]:
    """What is wrong or worth telling before anything is computed."""
    from validate.studies.collaborative_trial.checking import check as problems_of

    return problems_of(job)


def limits(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this design cannot tell, in sentences."""
    from validate.studies.collaborative_trial.carried_out import limits_of_use

    return limits_of_use(job, result)


def declared_levels(settings: CollaborativeTrialSettings) -> tuple[str, ...]:
    """The levels in the order of the protocol."""
    return settings.design.levels


def plan(job: PlanInput) -> StudyPlan:
    """What is sent to whom."""
    from validate.studies.collaborative_trial.plan import plan as planned

    return planned(job)


STUDY = Study(
    kind="collaborative_trial",
    title="Collaborative trial",
    question="How well do results of different laboratories agree, and what is the precision of the method?",
    settings=CollaborativeTrialSettings,
    columns=COLUMNS,
    findings=FINDINGS,
    evaluate=evaluate,
    levels=declared_levels,
    check=check,
    columns_of=columns_of,
    limits=limits,
    plan=plan,
)
