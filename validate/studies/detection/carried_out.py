"""The design as planned and as carried out, what varied, short texts for the section, and limits of use."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from validate.studies.contract import StudyInput
from validate.studies.detection.approaches import Bench
from validate.studies.detection.recorded import is_recorded
from validate.studies.detection.settings import FACTORS, STANDARDS, DetectionSettings
from validate.studies.detection.trials import TrialResults
from validate.vocabulary.evaluation import DesignFact, StudyResult, Varied

if TYPE_CHECKING:
    import pandas as pd

MOST_NAMED = 8


def design_facts(bench: Bench) -> tuple[DesignFact, ...]:
    """Blanks, levels, samples at each level, days: planned against carried out."""
    design, samples = bench.settings.design, bench.samples
    blanks = samples.blanks
    measured = [group for group in samples.spikes if group.tried]
    counts = [group.tried for group in measured] or [0]
    facts = [
        DesignFact(name="blanks", planned=str(design.blanks), carried_out=str(blanks.tried),
                   short=blanks.tried < design.blanks),
    ]  # fmt: skip
    if design.levels:
        least, most = min(counts), max(counts)
        facts += [
            DesignFact(
                name=f"spiked levels ({bench.unit})",
                planned=", ".join(design.levels),
                carried_out=", ".join(group.level for group in measured) or "none",
                short=len(measured) < len(design.levels),
            ),
            DesignFact(
                name="samples at each level",
                planned=str(design.replicates),
                carried_out=str(least) if least == most else f"{least} to {most}",
                short=least < design.replicates,
            ),
        ]
    if design.days is not None:
        days = [group.days for group in (blanks, *measured) if group.n]
        known = [number for number in days if number is not None]
        carried = str(min(known)) if known and len(known) == len(days) else "not recorded"
        short = carried == "not recorded" or min(known) < design.days
        facts.append(DesignFact(name="days", planned=str(design.days), carried_out=carried, short=short))
    if samples.standards.n:
        number = len(samples.standards.each)
        words = f"{samples.standards.n} in {number} calibration{'' if number == 1 else 's'}"
        facts.append(DesignFact(name="standards", planned="as in the table", carried_out=words))
    return tuple(facts)


def varied_factors(job: StudyInput) -> tuple[Varied, ...]:
    """Days, analysts, instruments, lots and blank materials: varied, constant or not recorded."""
    return tuple(_varied(job.table.frame, name, role) for name, role in FACTORS)


def facts_of(bench: Bench, counted: TrialResults) -> dict[str, str]:
    """Short texts for the section."""
    sensitivity = bench.samples.sensitivity
    slope = sensitivity.words
    if sensitivity.reason is not None:
        slope = sensitivity.reason
    elif not sensitivity.as_read:
        slope = f"{sensitivity.words}, {sensitivity.slope:.4g} {bench.samples.unit} per {bench.unit}"
    return {
        "claimed_lod": bench.settings.lod.by,
        "claimed_loq": bench.settings.loq.by,
        "slope": slope,
        "decision": counted.decision.words or f"not counted: {counted.reason}",
    }


def limits_of_use(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this study cannot tell."""
    return tuple(_sentences(job, result))


def _sentences(job: StudyInput, result: StudyResult) -> Iterator[str]:
    settings: DetectionSettings = job.settings  # type: ignore[assignment]
    frame = job.table.frame
    if settings.rows == STANDARDS:
        yield "Standards were measured, not samples: losses in extraction and the matrix are not in these limits."
    origins = frame["origin"].nunique() if "origin" in frame and is_recorded(frame, "origin") else 0
    if origins < 2:
        yield "The limits hold for the blank material that was measured; another one may give a higher background."
    for role, words in (("instrument", "instrument"), ("lot", "lot of kit, column or reagent"), ("analyst", "analyst")):
        if is_recorded(frame, role) and frame[role].nunique() == 1:
            yield f"One {words} only: how the limits differ with others is not known."
    yield "A result between the critical value and the quantification limit says 'present', not how much."
    lod = result.finding("lod")
    begins = job.method.scope_from
    if lod is not None and lod.value is not None and begins is not None and begins < lod.value:
        yield f"The scope begins at {begins:g} {job.method.unit}, below the limit of detection."


def _varied(frame: pd.DataFrame, name: str, role: str) -> Varied:
    if not is_recorded(frame, role):
        return Varied(factor=name, state="not recorded")
    labels = list(frame[role].unique())
    named = ", ".join(map(str, labels[:MOST_NAMED])) + (" …" if len(labels) > MOST_NAMED else "")
    return Varied(factor=name, state="varied" if len(labels) > 1 else "constant", count=len(labels), detail=named)
