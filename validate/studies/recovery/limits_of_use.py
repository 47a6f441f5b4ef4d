"""Limits of use that follow from the design."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.contract import StudyInput
from validate.studies.recovery.grouping import is_recorded
from validate.studies.recovery.settings import MINIMUM_DAYS, NATURAL, ROUND, SPIKES, RecoverySettings
from validate.vocabulary.evaluation import StudyResult

HIDDEN_FACTORS = (("analyst", "analyst"), ("instrument", "instrument"), ("lot", "lot of kit, column or reagent"))


def sentences(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this study cannot tell."""
    return (*_on_range(job, result), *_on_samples(job), *_on_conditions(job))


def _on_range(job: StudyInput, result: StudyResult) -> Iterator[str]:
    unit = job.method.unit
    measured = sorted({float(f.level) for f in result.findings if f.level is not None and f.n})
    if not measured:
        return
    span = f"{measured[0]:g} {unit}" if len(measured) == 1 else f"{measured[0]:g} to {measured[-1]:g} {unit}"
    yield f"Figures hold for {span}; nothing was measured outside."
    scope_from, scope_to = job.method.scope_from, job.method.scope_to
    if scope_from is not None and scope_from < measured[0]:
        yield f"The scope begins at {scope_from:g} {unit}, below the lowest level."
    if scope_to is not None and scope_to > measured[-1]:
        yield f"The scope ends at {scope_to:g} {unit}, above the highest level."


def _on_samples(job: StudyInput) -> Iterator[str]:
    settings: RecoverySettings = job.settings  # type: ignore[assignment]
    if settings.contamination in SPIKES:
        yield "Samples were spiked: whether naturally grown-in analyte is extracted as completely was not tested."
    if settings.contamination == NATURAL and not settings.reference:
        yield "The content of the samples is not known independently: there is no recovery and no bias here."
    if settings.contamination == ROUND:
        yield "The assigned value of a round carries the agreement of its participants, with its own uncertainty."
    yield "How the sample was taken and ground is not part of these figures and usually outweighs them."


def _on_conditions(job: StudyInput) -> Iterator[str]:
    frame = job.table.frame
    days = frame["day"].nunique() if is_recorded(frame, "day") else 0
    if not days:
        yield "Days are not recorded: the spread from day to day is not known."
    elif days < MINIMUM_DAYS:
        yield f"Only {days} day{'s' if days > 1 else ''}: the spread from day to day is hardly known."
    for role, words in HIDDEN_FACTORS:
        if is_recorded(frame, role) and frame[role].nunique() == 1:
            yield f"One {words} only: how others would differ is not known."
