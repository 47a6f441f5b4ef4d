"""The bench plan of a detection study: blanks and low spikes over the days, and what the counts can decide."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.contract import PlanInput
from validate.studies.detection.outlook import foresights, told
from validate.studies.detection.settings import STANDARDS, DetectionSettings
from validate.vocabulary.bench import Entry, Position, Spike, StudyPlan, bounded


def plan(job: PlanInput) -> StudyPlan:
    """Every blank and every spiked sample as one position; each kind is spread evenly over the days."""
    settings: DetectionSettings = job.settings  # type: ignore[assignment]
    return StudyPlan(
        positions=bounded(_positions(job, settings)),
        entries=tuple(_entries(job, settings)),
        code_role="sample",
        steps=tuple(_steps(settings)),
        records=tuple(_records(settings)),
        cautions=(
            "Standard solutions are far more concentrated than blanks: spike away from the blanks, and after them.",
        ),
        foresights=foresights(job),
        told=tuple(told(job)),
    )


def _positions(job: PlanInput, settings: DetectionSettings) -> Iterator[Position]:
    design, unit = settings.design, job.method.unit
    days = design.days or 1
    groups = (("0", design.blanks), *((level, design.replicates) for level in design.levels))
    for day in range(1, days + 1):
        for level, number in groups:
            for replicate in range(day, number + 1, days):
                cells = {"level": level} if design.days is None else {"level": level, "day": str(day)}
                yield Position(
                    day=day,
                    label=_label(settings, level, unit),
                    level=None if level == "0" else level,
                    replicate=replicate,
                    portion=settings.rows != STANDARDS,
                    spike=None if level == "0" or settings.rows == STANDARDS else Spike(content=float(level)),
                    cells=cells,
                )


def _label(settings: DetectionSettings, level: str, unit: str) -> str:
    what = "standard" if settings.rows == STANDARDS else "blank sample"
    if level == "0":
        return "standard without analyte" if settings.rows == STANDARDS else "blank sample"
    return f"{what} of {level} {unit}" if settings.rows == STANDARDS else f"{what}, spiked to {level} {unit}"


def _entries(job: PlanInput, settings: DetectionSettings) -> Iterator[Entry]:
    yield Entry(role="sample", filled="plan")
    yield Entry(role="level", filled="plan")
    if settings.design.days is not None:
        yield Entry(role="day", filled="proposed")
    if settings.role == "found":
        top = 10 * max([float(level) for level in settings.design.levels] or [job.method.scope_to or 1.0])
        yield Entry(role="found", low=min(0.0, job.method.floor or 0.0), high=top)
    else:
        yield Entry(role="signal")
    yield from (Entry(role=name) for name in ("analyst", "instrument", "lot", "origin"))


def _steps(settings: DetectionSettings) -> Iterator[str]:
    yield "Take blanks of more than one origin where you can, each through the whole procedure as a sample."
    if settings.design.levels and settings.rows != STANDARDS:
        yield "Deliver the spike of the table onto the weighed portion; wait as the method asks before extracting."
    yield "Work in the order below. It is random within the day, so that carry-over and drift do not look like a level."
    yield "Write down what the display shows with all its digits, also below the usual reporting limit."


def _records(settings: DetectionSettings) -> Iterator[str]:
    yield "origin of each blank"
    if settings.design.levels and settings.rows != STANDARDS:
        yield "standard: certificate, lot, expiry; pipette used"
    yield "instrument, lot of kit or column, calibration in force"
    yield "reading as shown, with its < or n.d.; never 0 in the place of either"
    yield "anything unusual at once: a result can be left out later only with a reason"
