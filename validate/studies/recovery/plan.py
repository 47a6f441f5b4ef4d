"""The bench plan of a recovery study: portions, what goes into them, what is written down."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.contract import PlanInput
from validate.studies.recovery.outlook import foresights
from validate.studies.recovery.settings import SPIKED_EXTRACT, SPIKES, RecoverySettings
from validate.vocabulary.bench import Entry, Position, Spike, StudyPlan, bounded

ASKED_OF_THE_BENCH = ("analyst", "found", "instrument", "lot", "calibration")


def plan(job: PlanInput) -> StudyPlan:
    """Every level, replicate and day as one position; native portions where the protocol takes them from rows."""
    settings: RecoverySettings = job.settings  # type: ignore[assignment]
    return StudyPlan(
        positions=bounded(_positions(job, settings)),
        entries=_entries(job, settings),
        code_role="sample",
        steps=tuple(_steps(settings)),
        records=tuple(_records(settings)),
        cautions=tuple(_cautions(settings)),
        foresights=foresights(job, settings),
        told=tuple(_told(settings)),
    )


def _positions(job: PlanInput, settings: RecoverySettings) -> Iterator[Position]:
    design, unit = settings.design, job.method.unit
    levels = design.levels
    if settings.native is not None and settings.native.from_ == "rows":
        levels = ("0", *levels)
    for day in range(1, (design.days or 1) + 1):
        for level in levels:
            for replicate in range(1, design.replicates + 1):
                cells = {"added": level, "replicate": str(replicate)}
                yield Position(
                    day=day,
                    analyst=_analyst(settings, day, replicate),
                    label=_label(settings, level, unit),
                    level=level,
                    replicate=replicate,
                    spike=_spike(settings, level),
                    cells=cells if design.days is None else {**cells, "day": str(day)},
                )


def _analyst(settings: RecoverySettings, day: int, replicate: int) -> int | None:
    """Analysts take turns from day to day; within the one session when no days are planned."""
    design = settings.design
    if not design.analysts:
        return None
    turn = day if design.days is not None else replicate
    return (turn - 1) % design.analysts + 1


def _spike(settings: RecoverySettings, level: str) -> Spike | None:
    if settings.contamination not in SPIKES or level == "0" or level in settings.reference:
        return None
    into = "extract" if settings.contamination == SPIKED_EXTRACT else "sample"
    return Spike(content=float(level), into=into, materials=settings.spike_with)


def _label(settings: RecoverySettings, level: str, unit: str) -> str:
    if level == "0":
        return "unspiked sample"
    if level in settings.reference:
        return f"{settings.reference[level]} ({level} {unit})"
    if settings.contamination == SPIKED_EXTRACT:
        return f"extract of a blank sample, spiked to {level} {unit}"
    if settings.contamination in SPIKES:
        return f"blank sample, spiked to {level} {unit}"
    return f"sample of {level} {unit}"


def _entries(job: PlanInput, settings: RecoverySettings) -> tuple[Entry, ...]:
    method = job.method
    top = 2 * max([float(level) for level in settings.design.levels] + [method.scope_to or 0])
    low = min(0.0, method.floor or 0.0)
    entries = [Entry(role="sample", filled="plan"), Entry(role="added", filled="plan")]
    if settings.design.days is not None:
        entries.append(Entry(role="day", filled="proposed"))
    entries += [Entry(role="replicate", filled="plan"), Entry(role="analyst"), Entry(role="found", low=low, high=top)]
    if settings.native is not None and settings.native.from_ == "column":
        entries.append(Entry(role="native", low=low, high=top))
    return (*entries, Entry(role="instrument"), Entry(role="lot"), Entry(role="calibration"))


def _steps(settings: RecoverySettings) -> Iterator[str]:
    yield "Label the vessels with the codes of the order below, before anything is weighed."
    if settings.contamination in SPIKES:
        where = "the extract" if settings.contamination == SPIKED_EXTRACT else "the weighed portion"
        yield f"Deliver the spike of the table onto {where}; use the pipette that is named there."
        if settings.contamination != SPIKED_EXTRACT:
            yield "Spread it, let the solvent go off under the hood and wait as the method asks before extracting."
    yield "Work in the order below. It is random within the day, so that drift does not look like a level."
    if settings.native is not None and settings.native.from_ == "column":
        yield "Measure the unspiked sample beside each portion and write its result in the same row."
    if settings.corrected_for_recovery:
        yield "Enter results corrected for recovery, as the protocol says; note the factor."


def _records(settings: RecoverySettings) -> Iterator[str]:
    yield "mass of each portion as weighed"
    if settings.contamination in SPIKES:
        yield "standard: certificate, lot, expiry; pipette used"
        yield "time of spiking and of the start of extraction"
    yield "instrument, lot of kit or column, calibration in force"
    yield "reading as shown, with its < or n.d.; never 0 in the place of either"
    yield "anything unusual at once: a result can be left out later only with a reason"


def _cautions(settings: RecoverySettings) -> Iterator[str]:
    if settings.contamination in SPIKES:
        yield "Standard solutions are far more concentrated than samples: gloves, hood, a separate place for spiking."


def _told(settings: RecoverySettings) -> Iterator[str]:
    if settings.contamination in SPIKES:
        yield "Spikes do not show whether grown-in analyte is extracted as completely."
    if not settings.design.days:
        yield "Everything on one occasion: intermediate precision cannot be shown."
