"""The bench plan of a screening study: blind samples over the days, and what their counts can decide."""

from __future__ import annotations

from collections.abc import Iterator

from validate.stats.detection import proportion
from validate.stats.screening import false_negative_rate
from validate.studies.contract import PlanInput
from validate.studies.screening.settings import CONTENT, DECISION, FEWEST_DAYS, FEWEST_READINGS, ScreeningSettings
from validate.vocabulary.bench import Entry, Position, Spike, StudyPlan, bounded


def plan(job: PlanInput) -> StudyPlan:
    """Every sample as one position; each kind is spread evenly over the days."""
    settings: ScreeningSettings = job.settings  # type: ignore[assignment]
    return StudyPlan(
        positions=bounded(_positions(job, settings)),
        entries=tuple(_entries(job, settings)),
        code_role="sample",
        steps=tuple(_steps(settings)),
        records=tuple(_records(settings)),
        cautions=("Samples at the target hold the analyte: gloves, no dust, waste kept apart as local rules decide.",),
        told=tuple(_told(settings)),
    )


def _positions(job: PlanInput, settings: ScreeningSettings) -> Iterator[Position]:
    design, unit = settings.design, job.method.unit
    days = design.days or 1
    groups = [("0", design.negatives), *((level, design.replicates) for level in design.levels), ("", design.compared)]
    if settings.target_level is not None:
        groups.insert(1, (settings.target_level, design.positives))
    for day in range(1, days + 1):
        for level, number in groups:
            for replicate in range(day, number + 1, days):
                cells = {"level": level} if design.days is None else {"level": level, "day": str(day)}
                yield Position(
                    day=day,
                    label=_label(level, unit),
                    level=level if level not in ("", "0") else None,
                    replicate=replicate,
                    spike=Spike(content=float(level)) if level not in ("", "0") else None,
                    cells=cells,
                )


def _label(level: str, unit: str) -> str:
    if level == "":
        return "sample for both methods"
    return "negative sample" if level == "0" else f"negative sample, spiked to {level} {unit}"


def _entries(job: PlanInput, settings: ScreeningSettings) -> Iterator[Entry]:
    yield Entry(role="sample", filled="plan")
    yield Entry(role="level", filled="plan")
    if settings.design.days is not None:
        yield Entry(role="day", filled="proposed")
    if settings.reads == DECISION:
        yield Entry(role="suspect", allowed=("yes", "no"))
    elif settings.reads == CONTENT:
        top = 10 * max([float(level) for level in settings.levels] or [job.method.scope_to or 1.0])
        yield Entry(role="found", low=min(0.0, job.method.floor or 0.0), high=top)
    else:
        yield Entry(role="signal")
    if settings.design.compared:
        yield Entry(role="reference", low=0.0)
    yield from (Entry(role=name) for name in ("analyst", "lot", "instrument", "origin"))


def _steps(settings: ScreeningSettings) -> Iterator[str]:
    yield "Take negative samples of several materials, each known to hold no more than a fifth of the target."
    if settings.design.positives or settings.design.levels:
        yield "Deliver the spike of the table onto the weighed portion, or take material of that content."
    yield "Work in the order below, which is random within the day; who reads the test does not know the levels."
    if settings.design.compared:
        yield "Divide each compared sample in two after grinding and mixing, one part for the reference method."
    if settings.reads == DECISION:
        yield "Decide each test once, at the time that its instructions name; do not repeat a doubtful one."
    else:
        yield "Write down what the reader shows with all its digits: one digit more than the target has."


def _records(settings: ScreeningSettings) -> Iterator[str]:
    yield "origin of each negative sample, and what it contains at most by which method"
    yield "lot of kit or strip, its expiry, reader, room temperature where the instructions name it"
    yield "reading as shown, with its < or n.d.; never 0 in the place of either"
    yield "anything unusual at once: a sample can be left out later only with a reason"


def _told(settings: ScreeningSettings) -> Iterator[str]:
    design = settings.design
    if settings.reads != DECISION and design.positives >= FEWEST_READINGS:
        rate = false_negative_rate(design.positives)
        yield (
            f"A cut-off from {design.positives} samples misses {100 * rate.estimate:.1f} % of later ones at the target "
            f"on average, a single one {100 * rate.low:.1f} to {100 * rate.high:.0f} % (in 95 % of studies)."
        )
    for number, what in ((design.positives, "at the target"), (design.negatives, "negative")):
        if number:
            most = 100 * proportion(0, number, level=0.90).high
            yield f"{number} samples {what}: none sorted wrongly shows no more than that {most:.0f} % may be (95 %)."
    if settings.target is not None and (design.days or 1) < FEWEST_DAYS:
        yield f"Fewer than {FEWEST_DAYS} days: a first validation under (EU) 2023/2782 asks for {FEWEST_DAYS}."
    if settings.curve is not None:
        yield "A curve needs levels at which some samples are suspect and some are not: at least two of them."
