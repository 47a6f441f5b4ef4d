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

from validate.stats.homogeneity import Homogeneity, assess_units
from validate.studies.contract import PlanInput, Study, StudyInput
from validate.studies.homogeneity import between_units, over_time
from validate.studies.homogeneity.carried_out import design_facts, limits_of_use, varied
from validate.studies.homogeneity.checking import check
from validate.studies.homogeneity.concluding import conclude
from validate.studies.homogeneity.context import ISO_13528, Context, Sigma, sigma_of
from validate.studies.homogeneity.kinds import FINDINGS
from validate.studies.homogeneity.pictures import plots
from validate.studies.homogeneity.remarks import remarks
from validate.studies.homogeneity.samples import COLUMNS, samples_of
from validate.studies.homogeneity.settings import CONSEQUENCE_WORDS, HomogeneitySettings
from validate.studies.homogeneity.tables import tables
from validate.vocabulary.bench import StudyPlan
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.finding import Finding


def evaluate(job: StudyInput) -> StudyResult:
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
    limits=limits_of_use,
    plan=plan,
    conclude=conclude,
)
