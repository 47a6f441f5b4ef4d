"""Proficiency round: how far does each laboratory's result lie from the assigned value?

Question   How far, on a scale fixed before the round, do the laboratories' results lie from the
           assigned value, and what do warning and action signals ask for?
Design     One or more samples (of one or more measurands) sent to many laboratories; a result or
           a few from each, with or without its uncertainty. The key from code to name is no input.
Findings   For each target (measurand in sample): assigned_value, u_assigned, sigma_pt, u_ratio,
           robust_sd, acceptable_share. Scores stand in the table `scores`.
Criteria   An upper bound on u_ratio (0.3 is the usual goal), a lower one on acceptable_share.
Sources    ISO 13528:2015, ISO/IEC 17043:2023, IUPAC harmonised protocol 2006 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable

from validate.studies.contract import CheckInput, Need, PackageInput, Study, StudyInput
from validate.studies.proficiency_round.kinds import FINDINGS
from validate.studies.proficiency_round.settings import ProficiencyRoundSettings
from validate.studies.proficiency_round.targets import COLUMNS, columns_of, declared_labels
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.leaflet import Packages
from validate.vocabulary.problem import Problem

MATERIAL = ("s_sam_share", "s_sam", "u_hom", "u_stab", "stability_share")
WHY = "homogeneity that is not sufficient changes the scores as the protocol declares"


def evaluate(job: StudyInput) -> StudyResult:
    """Findings, tables and pictures of the round (the statistics are loaded here, not for `check`)."""
    from validate.studies.proficiency_round.evaluation import evaluate_study

    return evaluate_study(job)


def check(job: CheckInput) -> Iterable[Problem]:
    """What is wrong or worth telling before anything is computed."""
    from validate.studies.proficiency_round.checking import problems_of

    return problems_of(job)


def limits(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What scores cannot tell, in sentences."""
    from validate.studies.proficiency_round.assigning import CONSENSUS
    from validate.studies.proficiency_round.remarks import limits_of_use

    return limits_of_use(job.settings, job.settings.assigned_value.by in CONSENSUS)


def files(settings: ProficiencyRoundSettings) -> tuple[str, ...]:
    """Evaluations of earlier rounds."""
    return settings.earlier_rounds


def packages(job: PackageInput) -> Packages:
    """All scores as tables, the coded report, and a page for each laboratory."""
    from validate.studies.proficiency_round.packages import packages as packages_of

    return packages_of(job)


STUDY = Study(
    kind="proficiency_round",
    title="Proficiency round",
    question="How far does each laboratory's result lie from the assigned value, on a scale fixed before the round?",
    settings=ProficiencyRoundSettings,
    columns=COLUMNS,
    columns_of=columns_of,
    findings=FINDINGS,
    evaluate=evaluate,
    check=check,
    levels=declared_labels,
    expected_by=("round",),
    limits=limits,
    needs=tuple(Need(finding=name, why=WHY) for name in MATERIAL),
    files=files,
    packages=packages,
)
