"""Uncertainty: how far may a result lie from the true content, and what follows at the limit?

Question   Within which range does the true content lie, at what level, and is a result at the
           limit accepted?
Design     None of its own: within-laboratory reproducibility and bias come from the findings of
           precision and recovery studies, or from a control material; a table of results to
           decide on is optional.
Findings   u_within, u_bias, u_combined, expanded_uncertainty (in the unit and in percent) by
           level; default_uncertainty of a law; acceptance_limit, worst_risk and
           worst_rejection_risk at the limit.
Criteria   An upper bound on U or u, by level.
Sources    GUM (JCGM 100:2008); Nordtest TR 537, VAM 3.2.1 (from memory); JCGM 106:2012 for
           decisions; Regulation (EU) 2023/2782 for its default.
"""

from __future__ import annotations

from collections.abc import Iterable

from validate.studies.contract import CheckInput, Need, Study, StudyInput
from validate.studies.uncertainty.kinds import FINDINGS
from validate.studies.uncertainty.settings import COLUMNS, UncertaintySettings, declared_levels
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.problem import Problem


def evaluate(job: StudyInput) -> StudyResult:
    """Findings, tables and pictures of the study (the statistics are loaded here, not for `check`)."""
    from validate.studies.uncertainty.evaluation import evaluate_study

    return evaluate_study(job)


def check(job: CheckInput) -> Iterable[Problem]:
    """What is wrong or worth telling before anything is computed."""
    from validate.studies.uncertainty.checking import problems_of

    return problems_of(job)


def limits(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this uncertainty cannot tell, in sentences."""
    from validate.studies.uncertainty.remarks import limits_of_use

    return limits_of_use(job, result)


STUDY = Study(
    kind="uncertainty",
    title="Measurement uncertainty and the decision at the limit",
    question="How far may a result lie from the true content, and what follows from it at the limit?",
    settings=UncertaintySettings,
    columns=COLUMNS,
    findings=FINDINGS,
    evaluate=evaluate,
    check=check,
    levels=declared_levels,
    expected_by=("verification", "validation", "extension", "revalidation"),
    limits=limits,
    needs=(
        Need(finding="s_intermediate", why="within-laboratory reproducibility is the precision of the budget"),
        Need(finding="s_long_term", why="a control material shows what lots and calibrations add over time"),
        Need(finding="rsd_long_term", why="the relative long-term SD of one material serves for contents near it"),
        Need(finding="rsd_intermediate", why="the relative SD of one material serves for contents near it"),
        Need(finding="mean", why="it says at which content that relative SD was found"),
        Need(finding="bias", why="a bias that is not corrected enters the uncertainty"),
        Need(finding="mean_recovery", why="results may be divided by it, and its error enters the uncertainty"),
    ),
    without_table=True,
)
