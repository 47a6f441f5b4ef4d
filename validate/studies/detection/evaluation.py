"""Evaluate a detection study: every approach side by side, the claimed ones judged, samples counted."""

from __future__ import annotations

from dataclasses import replace

from validate.studies.contract import StudyInput
from validate.studies.detection.approaches import Approach, Bench
from validate.studies.detection.carried_out import design_facts, facts_of, varied_factors
from validate.studies.detection.from_scatter import critical_value, scatter_approaches
from validate.studies.detection.from_standards import critical_of_line, standard_approaches
from validate.studies.detection.kinds import BY_NAME, FINDINGS, LOD_FINDINGS, LOQ_FINDINGS
from validate.studies.detection.pictures import pictures
from validate.studies.detection.quantification import by_criteria
from validate.studies.detection.remarks import remarks_of
from validate.studies.detection.samples import samples_of
from validate.studies.detection.tables import approach_table, levels_near, trial_table
from validate.studies.detection.trials import TrialResults, count, evidence, rate_findings, trial_approaches
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.finding import Finding

BY_STANDARDS = {"lod_calibration"} | {f.name for f in FINDINGS if f.name.endswith(("residual_sd", "intercept_sd"))}
BY_SPIKES = ("lod_low_level", "lod_mdl", "lod_trials", "lod_pod")
NOT_CONFIRMED = "no sample was measured near this level: not confirmed"


def evaluate_study(job: StudyInput) -> StudyResult:
    """Findings, tables and pictures; a figure that the data do not allow says why."""
    bench = Bench(job, samples_of(job))
    critical, gross_critical = critical_value(bench)
    if critical.value is None and bench.samples.standards.n:
        critical, gross_critical = critical_of_line(bench, critical)
    counted = count(bench, gross_critical)
    made = (
        *scatter_approaches(bench),
        *standard_approaches(bench),
        *trial_approaches(bench, counted),
        by_criteria(bench),
    )
    approaches = {each.name: replace(each, finding=_marked(each.finding, counted)) for each in made}
    lod = _claimed(bench, counted, approaches[LOD_FINDINGS[bench.settings.lod.by]])
    loq = replace(approaches[LOQ_FINDINGS[bench.settings.loq.by]].finding, name="loq")
    shown = tuple(approaches[name] for name in BY_NAME if name in approaches and _has_samples(bench, name))
    by_name = {f.name: f for f in (lod, loq, critical, *(each.finding for each in shown))}
    ordered = tuple(by_name[name] for name in BY_NAME if name in by_name)
    return StudyResult(
        findings=(*ordered, *rate_findings(bench, counted)),
        design=design_facts(bench),
        varied=varied_factors(job),
        tables=(approach_table(bench, counted, shown), trial_table(bench, counted)),
        plots=pictures(bench, counted, critical, gross_critical, lod),
        remarks=remarks_of(bench, counted, lod),
        facts=facts_of(bench, counted),
    )


def _marked(finding: Finding, counted: TrialResults) -> Finding:
    """A limit near which nothing was measured says so."""
    if finding.value is None or not finding.name.startswith("lod_") or levels_near(finding.value, counted):
        return finding
    return replace(finding, notes=(*finding.notes, NOT_CONFIRMED))


def _claimed(bench: Bench, counted: TrialResults, approach: Approach) -> Finding:
    """The figure of the claimed approach under the name that a claim uses, with the samples that confirm it."""
    return replace(approach.finding, name="lod", detection=evidence(bench, counted))


def _has_samples(bench: Bench, name: str) -> bool:
    """Approaches are listed only where samples of their kind were measured or planned."""
    samples = bench.samples
    if name in BY_STANDARDS:
        return samples.standards.n > 0
    if name == "loq_criteria":
        return bool(bench.job.needed)
    return bool(samples.spikes) or (name not in BY_SPIKES and samples.blanks.tried > 1)
