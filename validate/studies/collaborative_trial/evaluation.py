"""Every level of a trial by the kind of its results; the levels together for what depends on the level."""

from __future__ import annotations

from validate.studies.collaborative_trial import binary, consistency, pictures, reduced, screening, tables
from validate.studies.collaborative_trial.carried_out import KIND_WORDS, design_facts, varied
from validate.studies.collaborative_trial.context import Context
from validate.studies.collaborative_trial.estimates import LevelEstimate, estimate
from validate.studies.collaborative_trial.findings import level_findings, missing_findings
from validate.studies.collaborative_trial.level_data import by_level
from validate.studies.collaborative_trial.remarks import few_laboratories, remarks
from validate.studies.collaborative_trial.settings import BINARY, CollaborativeTrialSettings
from validate.studies.contract import StudyInput
from validate.vocabulary.evaluation import ResultTable, StudyResult


def evaluate_study(job: StudyInput) -> StudyResult:
    """Findings, tables and plot data of one table; never raises for data that passed the checks."""
    settings: CollaborativeTrialSettings = job.settings  # type: ignore[assignment]
    contexts = tuple(Context(job, data) for data in by_level(job.table, settings, job.method.floor))
    made = _of_counts(contexts) if settings.design.kind == BINARY else _of_results(contexts)
    made["remarks"] = (*few_laboratories(contexts), *made["remarks"])
    return StudyResult(
        **made,
        design=design_facts(contexts),
        varied=varied(contexts),
        facts={"kind": settings.design.kind, "arrangement": KIND_WORDS[settings.design.kind]},
    )


def _of_results(contexts: tuple[Context, ...]) -> dict[str, object]:
    findings, told, estimated, used = [], [], {}, []
    for context in contexts:
        found = _estimate_or_reason(context)
        told += remarks(context, found)
        if isinstance(found, str):
            findings += missing_findings(context, found)
            continue
        estimated[context.level] = found
        used.append(context)
        findings += level_findings(context, found)
    usable, unit = tuple(used), contexts[0].unit
    screened = tuple(screening.screened(context) for context in usable)
    told += [flag for context, each in zip(usable, screened, strict=True) for flag in screening.flags(context, each)]
    cells = tuple(consistency.consistency(context) for context in usable)
    fits = tables.fits_of(estimated)
    made = (
        tables.by_level(estimated, unit),
        *reduced.tables(usable, screened),
        tables.forms(fits),
        screening.steps_table(screened),
        consistency.table(cells, unit),
    )
    return {
        "findings": tuple(findings),
        "tables": _filled(made),
        "plots": (
            *consistency.plots(cells),
            *pictures.by_laboratory(usable, estimated),
            *pictures.against_level(estimated, fits, unit),
        ),
        "remarks": tuple(told),
    }


def _estimate_or_reason(context: Context) -> LevelEstimate | str:
    try:
        return estimate(context.data, context.settings.design, context.unit)
    except ValueError as reason:
        return str(reason)


def _of_counts(contexts: tuple[Context, ...]) -> dict[str, object]:
    findings, told, found = [], [], {}
    for context in contexts:
        try:
            found[context.level] = binary.counted(context)
        except ValueError as reason:
            findings += binary.missing(context, str(reason))
            told += remarks(context, str(reason))
            continue
        findings += binary.level_findings(context, found[context.level])
        told += [*remarks(context, None), *binary.remarks(context, found[context.level])]
    return {
        "findings": tuple(findings),
        "tables": _filled(binary.tables(contexts, found)),
        "plots": binary.plots(contexts, found),
        "remarks": tuple(told),
    }


def _filled(made: tuple[ResultTable | None, ...]) -> tuple[ResultTable, ...]:
    return tuple(table for table in made if table is not None and table.rows)
