"""Every level by itself, then the levels together for what depends on the level."""

from __future__ import annotations

from validate.studies.contract import StudyInput
from validate.studies.precision.carried_out import design_facts, facts, varied
from validate.studies.precision.context import LevelContext
from validate.studies.precision.designs import components
from validate.studies.precision.findings import level_findings, missing_findings
from validate.studies.precision.groups import by_level, why_unusable
from validate.studies.precision.kinds import BY_NAME
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
from validate.vocabulary.evaluation import StudyResult


def evaluate_study(job: StudyInput) -> StudyResult:
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
