"""Units of the first occasion against each other, and occasions against the first."""

from __future__ import annotations

from validate.stats.homogeneity import Homogeneity, assess_units
from validate.studies.contract import StudyInput
from validate.studies.homogeneity import between_units, over_time
from validate.studies.homogeneity.carried_out import design_facts, varied
from validate.studies.homogeneity.context import ISO_13528, Context, Sigma, sigma_of
from validate.studies.homogeneity.kinds import FINDINGS
from validate.studies.homogeneity.pictures import plots
from validate.studies.homogeneity.remarks import remarks
from validate.studies.homogeneity.samples import samples_of
from validate.studies.homogeneity.settings import CONSEQUENCE_WORDS, HomogeneitySettings
from validate.studies.homogeneity.tables import tables
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.finding import Finding


def evaluate_study(job: StudyInput) -> StudyResult:
    """Findings, tables and plot data of one table; never raises for data that passed the checks."""
    settings: HomogeneitySettings = job.settings  # type: ignore[assignment]
    samples = samples_of(job.table, job.method.floor)
    if samples is None:
        return StudyResult(findings=_missing(job, "the table holds no result that is a number"))
    sigma = sigma_of(job, float(samples.first.values.mean()))
    context = Context(job, samples, sigma)
    facts = {
        "when_not_sufficient": settings.when_not_sufficient,
        "consequence": CONSEQUENCE_WORDS[settings.when_not_sufficient],
        "sigma": sigma.words or sigma.reason,
    }
    design = {"design": design_facts(settings, samples), "varied": varied(samples), "facts": facts}
    found = _assessed(context, sigma)
    if isinstance(found, str):
        return StudyResult(findings=_missing(job, found), **design)
    change = over_time.change_of(context)
    findings = (*between_units.findings(context, found), *over_time.findings(context, change))
    return StudyResult(
        findings=findings,
        tables=tables(context, found, change),
        plots=plots(context, found, findings),
        remarks=remarks(context, found, findings),
        **design,
    )


def _assessed(context: Context, sigma: Sigma) -> Homogeneity | str:
    """The figures of the first occasion, or why there are none; without σ_pt the rules are left out later."""
    first = context.samples.first
    try:
        return assess_units(first.values, first.units.tolist(), sigma.value or 1.0)
    except ValueError as reason:
        return str(reason).replace("group", "unit")


def _missing(job: StudyInput, reason: str) -> tuple[Finding, ...]:
    wanted = ["s_an", "s_sam", "s_sam_share"]
    wanted += ["stability_share"] if job.settings.stability is not None else []  # type: ignore[attr-defined]
    kinds = {kind.name: kind for kind in FINDINGS}
    return tuple(
        Finding(
            name=name,
            level=None,
            value=None,
            unit=job.method.unit if kinds[name].unit == "method" else kinds[name].unit,
            reason=reason,
            formula=kinds[name].title,
            source=ISO_13528,
        )
        for name in wanted
    )
