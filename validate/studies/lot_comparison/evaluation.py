"""From one table and the earlier evaluations to findings, tables and pictures."""

from __future__ import annotations

from validate.studies.contract import StudyInput
from validate.studies.lot_comparison import carried_out, pictures, tables
from validate.studies.lot_comparison.beside import beside
from validate.studies.lot_comparison.comparing import decisive, outcome, outcomes
from validate.studies.lot_comparison.context import Context
from validate.studies.lot_comparison.deciding import rates
from validate.studies.lot_comparison.drift import Lots, drift
from validate.studies.lot_comparison.history import earlier_steps, figure_over_all, step_of
from validate.studies.lot_comparison.remarks import remarks
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.finding import Finding


def evaluate_study(job: StudyInput) -> StudyResult:
    """Findings, tables and plot data; never raises for data that passed the checks."""
    context = Context(job)
    found = outcomes(context)
    overall = outcome(context, context.all)
    decided = found if context.settings.judged_by_level else (overall,)
    findings = decisive(context, found) + beside(context)
    lots = _lots(context, findings)
    followed = drift(context, lots) if lots else []
    made = (
        tables.by_level(context, found, overall),
        tables.error_rates(context, rates(context, decided)),
        tables.beside_samples(context),
        tables.lot_table(lots) if lots else None,
    )
    return StudyResult(
        findings=(*findings, *followed),
        design=carried_out.design_facts(context),
        varied=carried_out.varied(context),
        tables=tuple(table for table in made if table is not None),
        plots=(
            *pictures.by_level(context, found, overall),
            *pictures.agreement(context),
            *((pictures.lots_over_time(context, lots),) if lots else ()),
        ),
        remarks=remarks(context, found, lots, followed[0] if followed else None),
        facts=carried_out.facts(context, decided),
    )


def _lots(context: Context, findings: list[Finding]) -> Lots | None:
    """The earlier lots and this one; None without earlier ones or without a figure of this one."""
    settings = context.settings
    steps, faults = earlier_steps(settings, context.job.files, context.unit, context.job.method.measurand)
    own = figure_over_all(findings, settings.factor)
    if not steps or faults or own is None:
        return None
    return Lots((*steps, step_of(own, new=settings.new, current=settings.current, verdict="this evaluation")))
