"""The bench plan of a linearity study: standards, what is written down, what the design can decide."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.contract import PlanInput
from validate.studies.linearity.outlook import foresights, told
from validate.studies.linearity.settings import FOUND, SET_POINTS, SIGNAL, LinearitySettings, reading_role
from validate.vocabulary.bench import Entry, Position, StudyPlan, bounded


def plan(job: PlanInput) -> StudyPlan:
    """Every level, replicate and day as one position."""
    settings: LinearitySettings = job.settings  # type: ignore[assignment]
    return StudyPlan(
        positions=bounded(_positions(job, settings)),
        entries=tuple(_entries(job, settings)),
        code_role="sample",
        steps=tuple(_steps(settings)),
        records=tuple(_records(settings)),
        cautions=("Stock solutions are far more concentrated than samples: gloves, hood, a place of their own.",),
        foresights=foresights(job),
        told=tuple(told(job)),
    )


def _positions(job: PlanInput, settings: LinearitySettings) -> Iterator[Position]:
    design, unit = settings.design, job.method.unit
    for day in range(1, (design.days or 1) + 1):
        for level in design.levels:
            for replicate in range(1, design.replicates + 1):
                cells = {"level": level, "replicate": str(replicate)}
                yield Position(
                    day=day,
                    label=_label(settings, level, unit),
                    level=level,
                    replicate=replicate,
                    portion=False,
                    cells=cells if design.days is None else {**cells, "day": str(day)},
                )


def _label(settings: LinearitySettings, level: str, unit: str) -> str:
    if settings.form == SET_POINTS:
        return f"check standard {level} {unit}"
    return f"standard of {level} {unit}" if float(level) > 0 else "blank, without analyte"


def _entries(job: PlanInput, settings: LinearitySettings) -> Iterator[Entry]:
    yield Entry(role="sample", filled="plan")
    yield Entry(role="level", filled="plan")
    yield Entry(role="replicate", filled="plan")
    if settings.design.days is not None:
        yield Entry(role="day", filled="proposed")
    if settings.form == SET_POINTS:
        yield Entry(role="date")
    role = reading_role(settings)
    if settings.form == SIGNAL:
        yield Entry(role=role, low=None if settings.signal.blank_subtracted else 0.0)
    else:
        yield Entry(role=role, low=min(0.0, job.method.floor or 0.0), high=2 * max(map(float, settings.design.levels)))
    yield from (Entry(role=name) for name in ("preparation", "analyst", "instrument", "lot"))


def _steps(settings: LinearitySettings) -> Iterator[str]:
    if settings.form == SET_POINTS:
        yield "Let the instrument warm up as its manual asks; clean the check standards."
        yield "Read each set point in the order below and write down what the display shows."
        return
    yield "Prepare every replicate of a level from the stock on its own, not by reading one solution twice."
    yield "Use several starting points for the dilutions: in one chain an error of the first step looks like a slope."
    yield "Match the solvent (and the matrix, where it matters) of the standards with that of the samples."
    yield "Read in the order below. It is random, so that drift does not look like a bend; rinse after high levels."
    if settings.form == FOUND:
        yield "Write down the content as the display shows it; do not recalibrate in between."


def _records(settings: LinearitySettings) -> Iterator[str]:
    yield "stock: certificate, lot, expiry; pipettes and flasks used"
    yield "number of the preparation of each solution"
    yield "instrument, its settings, warm-up, calibration in force"
    if settings.form == SIGNAL:
        yield "signal as shown, before any blank is subtracted unless the protocol says otherwise"
    else:
        yield "reading as shown, with its `<` or `n.d.`; never 0 in the place of either"
    yield "anything unusual at once: a reading can be left out later only with a reason"
