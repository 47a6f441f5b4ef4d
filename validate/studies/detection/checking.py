"""What is wrong, or worth telling, in the settings and the table of a detection study."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.contract import CheckInput
from validate.studies.detection.recorded import NO_NUMBER, is_recorded
from validate.studies.detection.settings import (
    BLANK,
    CONCENTRATION,
    FEWEST_BLANKS,
    FEWEST_BLANKS_OF_CLAIM,
    FEWEST_DAYS,
    STANDARDS,
    DetectionSettings,
)
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)
MOST_CELLS = 20
"""Cells of one kind of fault that are named one by one."""
FEWEST_CALIBRATIONS = 5


def problems_of(job: CheckInput) -> Iterator[Problem]:
    """Problems of the settings first, then those of the table."""
    settings: DetectionSettings = job.settings  # type: ignore[assignment]
    yield from _plan(job, settings)
    if job.table is not None:
        yield from _levels(job, settings)
        yield from _words(job)
        yield from _blanks(job, settings)
        if settings.rows != STANDARDS:
            yield from _days(job)
        yield from _calibrations(job, settings)


def _plan(job: CheckInput, settings: DetectionSettings) -> Iterator[Problem]:
    design, by = settings.design, settings.lod.by
    if settings.rows != STANDARDS and "lod" in settings.accept and design.blanks < FEWEST_BLANKS_OF_CLAIM:
        place = job.place("design", "blanks")
        yield PROBLEMS.problem(
            "detection-few-blanks-planned", place, planned=design.blanks, needed=FEWEST_BLANKS_OF_CLAIM
        )
    if by in ("low-level samples", "MDL", "trials", "POD") and not design.levels:
        yield PROBLEMS.problem("detection-no-levels", job.place("lod", "by"), approach=by)
    if design.levels and not design.replicates:
        yield PROBLEMS.problem("detection-no-replicates", job.place("design"))


def _levels(job: CheckInput, settings: DetectionSettings) -> Iterator[Problem]:
    frame, design = job.table.frame, settings.design
    samples = frame
    if settings.rows == STANDARDS:
        samples = frame[frame["level"].isin((BLANK, *design.levels))]
    elif "calibration" in frame:
        samples = frame[frame["calibration"].fillna("").eq("")]
    undeclared = samples.loc[~samples["level"].isin((BLANK, *design.levels)), "level"]
    declared = ", ".join(design.levels) or "none"
    for row, level in undeclared.head(MOST_CELLS).items():
        yield PROBLEMS.problem("detection-level-not-declared", job.cell(row, "level"), level=level, declared=declared)
    counts = samples.groupby("level").size()
    for number, level in enumerate(design.levels):
        found, place = int(counts.get(level, 0)), job.place("design", "levels", number)
        if not found:
            yield PROBLEMS.problem("detection-level-without-results", place, level=level)
        elif found < design.replicates:
            values = {"found": found, "level": level, "planned": design.replicates}
            yield PROBLEMS.problem("detection-fewer-than-planned", place, **values)


def _words(job: CheckInput) -> Iterator[Problem]:
    frame = job.table.frame
    if "detected" not in frame:
        return
    words = frame["detected"].fillna("").str.lower()
    for row, text in frame.loc[~words.isin(("yes", "no", "")), "detected"].head(MOST_CELLS).items():
        yield PROBLEMS.problem("detection-not-yes-or-no", job.cell(row, "detected"), text=text)


def _blanks(job: CheckInput, settings: DetectionSettings) -> Iterator[Problem]:
    """Blanks that cannot give a limit are told before anything is computed, with what to measure instead."""
    table, role = job.table, settings.role
    rows = table.frame.index[table.frame["level"] == BLANK]
    if not len(rows):
        if settings.rows != STANDARDS:
            yield PROBLEMS.problem("detection-no-blanks", job.place("data"))
        return
    values = table.frame.loc[rows, role]
    marks = table.marks.loc[rows, role].str.strip().str.upper()
    censored = int((values.isna() & ~marks.isin(NO_NUMBER)).sum())
    numbers, place, method = values.dropna(), job.place("data"), job.method
    if censored:
        yield PROBLEMS.problem("detection-blanks-censored", place, censored=censored, total=len(numbers) + censored)
    at_floor = int((numbers <= method.floor).sum()) if method.floor is not None else 0
    if settings.response == CONCENTRATION and at_floor:
        yield PROBLEMS.problem(
            "detection-blanks-floored",
            place,
            floored=at_floor,
            total=len(numbers),
            floor=f"{method.floor:g} {method.unit}",
        )
    elif len(numbers) > 1 and settings.response == CONCENTRATION:
        step = method.resolution or 0.0
        if numbers.std() < 0.5 * step or numbers.nunique() == 1:
            yield PROBLEMS.problem(
                "detection-blanks-rounded", place, total=len(numbers), step=f"{step:g} {method.unit}"
            )
    if settings.rows != STANDARDS and len(numbers) + censored < FEWEST_BLANKS:
        yield PROBLEMS.problem("detection-few-blanks", place, found=len(numbers) + censored, needed=FEWEST_BLANKS)


def _days(job: CheckInput) -> Iterator[Problem]:
    frame = job.table.frame
    if not is_recorded(frame, "day"):
        yield PROBLEMS.problem("detection-days-not-recorded", job.place("data"))
    elif frame["day"].nunique() < FEWEST_DAYS:
        yield PROBLEMS.problem(
            "detection-few-days", job.place("data"), found=frame["day"].nunique(), needed=FEWEST_DAYS
        )


def _calibrations(job: CheckInput, settings: DetectionSettings) -> Iterator[Problem]:
    frame = job.table.frame
    labels = frame["calibration"].fillna("") if "calibration" in frame else None
    number = labels[labels.ne("")].nunique() if labels is not None else 0
    if not number and settings.rows == STANDARDS:
        number = 1
    wanted = {settings.lod.by, settings.loq.by}
    if wanted & {"calibration", "3 residual SD", "residual SD"} and not number:
        yield PROBLEMS.problem("detection-no-standards", job.place("lod", "by"), approach=settings.lod.by)
    if "intercept SD" in wanted and number < FEWEST_CALIBRATIONS:
        yield PROBLEMS.problem(
            "detection-few-calibrations", job.place("lod", "by"), found=number, needed=FEWEST_CALIBRATIONS
        )
