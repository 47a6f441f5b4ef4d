"""Precision: how far do results on the same material scatter, and where does it come from?

Question   How close are results to each other under repeatability, and when days, analysts,
           lots or laboratories vary?
Design     Groups of repeated results (one-way), groups within groups (nested) or crossed
           factors, at one or several levels; unequal numbers of results are allowed.
Findings   mean, s_r, rsd_r, r; s_between; by what the outer factor is called s_intermediate,
           s_reproducibility (with R) or s_total, each also relative; HorRat in named forms;
           s_r over a claimed value.
Criteria   Upper bounds on any of them (rsd_r, rsd_intermediate, HorRat …), claims.
Sources    ISO 5725-2, -3, -6 (components, limits, tests); Graybill and Wang (limits of
           sums); Ting et al. (limits of components); statistics conventions in stats/.
"""

from __future__ import annotations

from validate.studies.contract import PlanInput, Study, StudyInput
from validate.studies.precision.carried_out import design_facts, facts, limits_of_use, varied
from validate.studies.precision.checking import check
from validate.studies.precision.context import LevelContext
from validate.studies.precision.designs import components
from validate.studies.precision.findings import level_findings, missing_findings
from validate.studies.precision.groups import by_level, why_unusable
from validate.studies.precision.kinds import BY_NAME, FINDINGS
from validate.studies.precision.model import Components
from validate.studies.precision.outliers import outlier_table, outlier_tests, with_and_without
from validate.studies.precision.pictures import components_plot, group_plots, left_out, level_plot
from validate.studies.precision.remarks import remarks, unequal_numbers
from validate.studies.precision.settings import PrecisionSettings
from validate.studies.precision.tables import (
    claim_table,
    components_table,
    forms_of,
    forms_table,
    limits_table,
)
from validate.tables.table import Column
from validate.vocabulary.bench import StudyPlan
from validate.vocabulary.evaluation import StudyResult

RESULT = Column(role="result", title="result as read", type="number", unit="method", censored=True)
LEVEL = Column(
    role="level", title="declared level of the material", type="level", unit="method", required=False, minimum=0
)

SAMPLE = Column(
    role="sample", title="code of the portion, for the bench and for amendments", type="label", required=False
)


def columns_of(settings: PrecisionSettings) -> tuple[Column, ...]:
    """The columns of this protocol's table: result, level, one for each factor, and the code of the portion."""
    level = LEVEL if not settings.design.levels else Column(**{**vars(LEVEL), "required": True})
    factors = tuple(
        Column(role=factor.column, title=f"{factor.called} of the result", type="label")
        for factor in settings.conditions
    )
    code = () if any(column.role == SAMPLE.role for column in factors) else (SAMPLE,)
    return (RESULT, level, *factors, *code)


def declared_levels(settings: PrecisionSettings) -> tuple[str, ...]:
    """The levels in the order of the protocol."""
    return settings.design.levels


def evaluate(job: StudyInput) -> StudyResult:
    """Findings, tables and plot data of one table; never raises for data that passed the checks."""
    settings: PrecisionSettings = job.settings  # type: ignore[assignment]
    unit = job.method.unit
    contexts = tuple(LevelContext(job, data) for data in by_level(job.table, settings, job.method))
    findings, told, tests, estimated = [], [], [], {}
    for context in contexts:
        found = _components_or_reason(context)
        if isinstance(found, str):
            findings += missing_findings(context, found)
            told += remarks(context, found, ())
            continue
        made = outlier_tests(context)
        estimated[context.data.level] = found
        findings += level_findings(context, found)
        told += remarks(context, found, made)
        tests += made
    words = {name: BY_NAME[name].title for found in estimated.values() for name in ("s_r", *found.totals)}
    fits = {name: forms_of(estimated, name) for name in words}
    tables = (
        limits_table(contexts, estimated),
        components_table(estimated, unit),
        claim_table(settings, [f for f in findings if f.name == "s_r"], unit),
        forms_table(fits, words),
        outlier_table(tests),
        with_and_without(contexts, tests),
    )
    return StudyResult(
        findings=tuple(findings),
        design=design_facts(contexts),
        varied=varied(contexts),
        tables=tuple(table for table in tables if table is not None and table.rows),
        plots=(
            *group_plots(contexts, estimated),
            *components_plot(estimated, unit),
            *level_plot(estimated, fits, words, unit),
        ),
        remarks=(*told, *unequal_numbers(estimated), *left_out(estimated)),
        facts=facts(settings),
    )


def _components_or_reason(context: LevelContext) -> Components | str:
    """The components of a level, or in words why there are none."""
    why = why_unusable(context.data, context.settings.design)
    if why:
        return why
    try:
        return components(context.data, context.settings.design, context.job.method.unit)
    except ValueError as reason:
        return str(reason)


def plan(job: PlanInput) -> StudyPlan:
    """What the bench is to do."""
    from validate.studies.precision.plan import plan as planned

    return planned(job)


STUDY = Study(
    kind="precision",
    title="Precision",
    question="How far do results on the same material scatter, and what adds to it?",
    settings=PrecisionSettings,
    columns=(RESULT, LEVEL, SAMPLE),
    findings=FINDINGS,
    evaluate=evaluate,
    levels=declared_levels,
    check=check,
    expected_by=("verification", "validation", "extension", "revalidation"),
    columns_of=columns_of,
    limits=limits_of_use,
    plan=plan,
)
