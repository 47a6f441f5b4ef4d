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

TIES = 0.5
"""Above this share of identical results the step of the reading, not the method, makes the spread."""


def remarks_of(job: StudyInput, levels: tuple[Level, ...]) -> tuple[Remark, ...]:
    """Remarks on the study, then on each level."""
    return (*_on_samples(job, levels), *_on_horrat(job, levels), *(r for level in levels for r in _on_level(job, level)))


def _on_samples(job: StudyInput, levels: tuple[Level, ...]) -> Iterator[Remark]:
    settings: RecoverySettings = job.settings  # type: ignore[assignment]
    if settings.contamination in SPIKES:
        yield Remark(kind="warning", text="Recovery on spikes: extraction of natural contamination not tested.")
    if settings.contamination == SPIKED_EXTRACT:
        yield Remark(kind="warning", text="The extract was spiked, not the sample: losses in extraction are not in this recovery.")
    if settings.corrected_for_recovery:
        yield Remark(kind="warning", text="Results were corrected for recovery before they were entered: the recovery below is what the correction left.")
    for level in levels:
        material = job.materials.get(settings.reference.get(level.level, ""))
        if material is not None and material.u is None:
            yield Remark(kind="warning", text=f"{material.material} has no stated uncertainty: it is not in the interval.", level=level.level)
    native = next((level.native for level in levels if level.native is not None), None)
    if native is not None and native.u == 0 and native.value > 0:
        yield Remark(kind="warning", text="The error of the native content is not known and is not in the interval.")


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


def _on_level(job: StudyInput, level: Level) -> Iterator[Remark]:
    name, method = level.level, job.method
    if level.censored:
        yield Remark(kind="warning", level=name, rows=row_ranges(level.censored),
                     text="Censored results are not in the figures, which get no verdict: they are never zero.")  # fmt: skip
    if level.missing:
        yield Remark(kind="flag", level=name, rows=row_ranges(level.missing), text="No result was obtained; a reason is needed.")
    if level.n == 0:
        yield Remark(kind="warning", level=name, text=f"{level.why_empty[0].upper()}{level.why_empty[1:]}.")
        return
    if level.reference is not None and level.native_value > level.reference.value:
        yield Remark(kind="warning", level=name, text="Spike too small: the native content exceeds what was added.")
    if level.sd is not None and is_below_resolution(level.sd, method.resolution):
        step = f"{method.resolution:g} {method.unit}" if method.resolution else "not declared"
        yield Remark(kind="warning", level=name, text=f"Results scatter by less than half a step of the reading ({step}): no verdict on their spread.")
    elif level.n >= 4 and (share := _largest_tie(level.found)) > TIES:
        yield Remark(kind="note", level=name, text=f"{share:.0%} of the results are the same number: the reading is coarse.".replace("%", " %"))
    if results_at_floor(job, level):
        yield Remark(kind="warning", level=name, text=f"{results_at_floor(job, level)} results stand at the floor of the reading ({method.floor:g} {method.unit}).")


def _largest_tie(found: np.ndarray) -> float:
    return float(np.unique(found, return_counts=True)[1].max() / len(found))
