"""Sentences that a reader must not miss."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from validate.studies.contract import StudyInput
from validate.studies.recovery.judgeable import is_below_resolution, results_at_floor
from validate.studies.recovery.precision_findings import mass_fraction_at, why_no_horrat
from validate.studies.recovery.samples import Level
from validate.studies.recovery.settings import SPIKED_EXTRACT, SPIKES, RecoverySettings, wanted_horrats
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import Remark

FEWEST_FOR_TIES = 4
TIES = 0.5
"""Above this share of identical results the step of the reading, not the method, makes the spread."""
NATURAL_NOT_TESTED = "Recovery on spikes: extraction of natural contamination not tested."
EXTRACT_ONLY = "The extract was spiked, not the sample: losses in extraction are not in this recovery."
CORRECTED = (
    "Results were corrected for recovery before they were entered: the recovery below is what the correction left."
)
NATIVE_ERROR = "The error of the native content is not known and is not in the interval."
CENSORED = "Censored results are not in the figures, which get no verdict: they are never zero."
SPIKE_TOO_SMALL = "Spike too small: the native content exceeds what was added."


def remarks_of(job: StudyInput, levels: tuple[Level, ...]) -> tuple[Remark, ...]:
    """Remarks on the study, then on each level."""
    by_level = (remark for level in levels for remark in (*_on_results(level), *_on_readings(job, level)))
    return (*_on_samples(job, levels), *_on_horrat(job, levels), *by_level)


def _on_samples(job: StudyInput, levels: tuple[Level, ...]) -> Iterator[Remark]:
    settings: RecoverySettings = job.settings  # type: ignore[assignment]
    if settings.contamination in SPIKES:
        yield Remark(kind="warning", text=NATURAL_NOT_TESTED)
    if settings.contamination == SPIKED_EXTRACT:
        yield Remark(kind="warning", text=EXTRACT_ONLY)
    if settings.corrected_for_recovery:
        yield Remark(kind="warning", text=CORRECTED)
    for level in levels:
        material = job.materials.get(settings.reference.get(level.level, ""))
        if material is not None and material.u is None:
            text = f"{material.material} has no stated uncertainty: none is in the interval."
            yield Remark(kind="warning", text=text, level=level.level)
    native = next((level.native for level in levels if level.native is not None), None)
    if native is not None and native.u == 0 and native.value > 0:
        yield Remark(kind="warning", text=NATIVE_ERROR)
    if native is not None and native.doubt:
        yield Remark(kind="warning", text=native.doubt)


def _on_horrat(job: StudyInput, levels: tuple[Level, ...]) -> Iterator[Remark]:
    if not wanted_horrats(job.settings):  # type: ignore[arg-type]
        return
    reason = why_no_horrat(job.method)
    if reason is not None:
        yield Remark(kind="note", text=f"No HorRat: {reason}.")
        return
    words = dict.fromkeys(mass_fraction_at(job, level)[1] for level in levels if level.n)
    if words:
        yield Remark(kind="note", text=f"HorRat takes C as the {', the '.join(words)} of the level.")


def _on_results(level: Level) -> Iterator[Remark]:
    name = level.level
    if level.censored:
        yield Remark(kind="warning", level=name, rows=row_ranges(level.censored), text=CENSORED)
    if level.missing:
        text = "No result was obtained; a reason is needed."
        yield Remark(kind="flag", level=name, rows=row_ranges(level.missing), text=text)
    if level.n == 0:
        yield Remark(kind="warning", level=name, text=f"{level.why_empty[0].upper()}{level.why_empty[1:]}.")
    elif level.reference is not None and level.native_value > level.reference.value:
        yield Remark(kind="warning", level=name, text=SPIKE_TOO_SMALL)


def _on_readings(job: StudyInput, level: Level) -> Iterator[Remark]:
    """What the steps and the floor of the display do to the figures."""
    name, method = level.level, job.method
    if level.sd is None:
        return
    share = _largest_tie(level.found)
    if is_below_resolution(level.sd, method.resolution):
        step = f"{method.resolution:g} {method.unit}" if method.resolution else "not declared"
        text = f"Results scatter by less than half a step of the reading ({step}): no verdict."
        yield Remark(kind="warning", level=name, text=text)
    elif level.n >= FEWEST_FOR_TIES and share > TIES:
        text = f"{100 * share:.0f} % of the results are the same number: the reading is coarse."
        yield Remark(kind="note", level=name, text=text)
    clipped = results_at_floor(job, level)
    if clipped:
        text = f"Results at the floor of the reading ({method.floor:g} {method.unit}): {clipped} of {level.n}."
        yield Remark(kind="warning", level=name, text=text)


def _largest_tie(found: np.ndarray) -> float:
    return float(np.unique(found, return_counts=True)[1].max() / len(found))
