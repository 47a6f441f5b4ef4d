"""Homogeneity and stability: are the units of a batch alike, and do they stay so?

Question   Do units differ, or change with time, by so much that scores would show it?
Design     Ten or more units, each measured twice or more under repeatability in random
           order; for stability the same on one or several later occasions.
Findings   mean, s_an, s_sam, their shares of σ_pt, sigma_widened, u_hom, filling_trend;
           stability_change, stability_share, u_stab.
Criteria   s_sam_share at most 0.3: met by ISO 13528, not met only where the IUPAC rule
           fails too, not shown between; stability_share within ±0.3 by its 90 % interval.
           Both are set by the study itself.
Sources    ISO 13528 Annex B, IUPAC Harmonized Protocol (2006), ISO Guide 35 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable

from validate.studies.contract import CheckInput, PlanInput, Study, StudyInput
from validate.studies.homogeneity.kinds import FINDINGS
from validate.studies.homogeneity.samples import COLUMNS
from validate.studies.homogeneity.settings import HomogeneitySettings
from validate.vocabulary.bench import StudyPlan
from validate.vocabulary.evaluation import Requirement, StudyConclusion, StudyResult
from validate.vocabulary.problem import Problem


def evaluate(job: StudyInput) -> StudyResult:
    """Findings, tables and pictures of the study (the statistics are loaded here, not for `check`)."""
    from validate.studies.homogeneity.evaluation import evaluate_study

    return evaluate_study(job)


def check(job: CheckInput) -> Iterable[Problem]:
    """What is wrong or worth telling before anything is computed."""
    from validate.studies.homogeneity.checking import check as problems_of

    return problems_of(job)


def limits(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this design cannot tell, in sentences."""
    from validate.studies.homogeneity.carried_out import limits_of_use

    return limits_of_use(job, result)


def conclude(result: StudyResult, requirements: tuple[Requirement, ...]) -> StudyConclusion | None:
    """Sufficient or not, and what follows for a round."""
    from validate.studies.homogeneity.concluding import conclude as conclusion

    return conclusion(result, requirements)


def no_levels(settings: HomogeneitySettings) -> tuple[str, ...]:
    """One material, one level."""
    return ()


def plan(job: PlanInput) -> StudyPlan:
    """What the bench is to do."""
    from validate.studies.homogeneity.plan import plan as planned

    return planned(job)


STUDY = Study(
    kind="homogeneity",
    title="Homogeneity and stability",
    question="Are the units of the batch alike, and do they stay so, for the use that is made of them?",
    settings=HomogeneitySettings,
    columns=COLUMNS,
    findings=FINDINGS,
    evaluate=evaluate,
    levels=no_levels,
    check=check,
    limits=limits,
    plan=plan,
    conclude=conclude,
)
