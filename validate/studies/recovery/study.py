"""Recovery: is the mean true, and how far do results scatter, on samples of known content?

Design: declared levels × replicates, on several days and by several analysts where
intermediate precision is asked for. Samples are spiked before extraction, spiked
extracts, naturally contaminated with an assigned value, certified, or left from a round.

Findings, each per level: mean recovery, bias (in the unit and in percent), s_r and RSD_r,
s_I and RSD_I, HorRat in forms named by their denominator and model.

Criteria that can be applied: bounds on recovery, RSD_r, RSD_I (RSD_wR) and HorRat from
the published sets, or the laboratory's own; bias as a range.

Sources: GUM (JCGM 100:2008) for the interval of the mean; ISO 5725-2 (from memory) for
the components; Graybill and Wang 1980 (from memory) for the limits of s_I; Horwitz forms
as named in `validate.stats.horwitz`.
"""

from __future__ import annotations

from collections.abc import Iterable

from validate.studies.contract import CheckInput, PlanInput, Study, StudyInput
from validate.studies.recovery.findings import FINDINGS
from validate.studies.recovery.settings import COLUMNS, RecoverySettings, columns_of, declared_levels
from validate.vocabulary.bench import StudyPlan
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.problem import Problem


def evaluate(job: StudyInput) -> StudyResult:
    """Findings, tables and pictures of the study (the statistics are loaded here, not for `check`)."""
    from validate.studies.recovery.evaluation import evaluate_levels

    return evaluate_levels(job)


def check(job: CheckInput) -> Iterable[Problem]:
    """What is wrong or worth telling before anything is computed."""
    from validate.studies.recovery.checking import problems_of

    return problems_of(job)


def limits(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this design cannot tell, in sentences."""
    from validate.studies.recovery.limits_of_use import sentences

    return sentences(job, result)


def plan(job: PlanInput) -> StudyPlan:
    """What the bench is to do."""
    from validate.studies.recovery.plan import plan as planned

    return planned(job)


STUDY = Study(
    kind="recovery",
    title="Recovery and precision by level",
    question="How much of what a sample holds does the method find, and how far do repeated results lie apart?",
    settings=RecoverySettings,
    columns=COLUMNS,
    columns_of=columns_of,
    findings=FINDINGS,
    evaluate=evaluate,
    check=check,
    levels=declared_levels,
    expected_by=("verification", "validation", "extension", "revalidation"),
    limits=limits,
    plan=plan,
)
