"""What is wrong, or worth telling, in the settings and the table of a screening study."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from validate.studies.contract import CheckInput
from validate.studies.screening.settings import (
    BLANK,
    DECISION,
    FEWEST_DAYS,
    FEWEST_READINGS,
    INVERSE,
    LARGEST_SHARE_IN_NEGATIVES,
    PROPORTIONAL,
    SIGNAL,
    ScreeningSettings,
)
from validate.vocabulary.problem import Problem, ProblemCatalogue

if TYPE_CHECKING:
    import pandas as pd

PROBLEMS = ProblemCatalogue(__file__)
MOST_CELLS = 20
"""Cells of one kind of fault that are named one by one."""


def problems_of(job: CheckInput) -> Iterator[Problem]:
    """Problems of the settings first, then those of the table."""
    settings: ScreeningSettings = job.settings  # type: ignore[assignment]
    yield from _settings(job, settings)
    if job.table is None:
        return
    yield from _levels(job, settings)
    yield from _negatives(job, settings)
    if settings.reads == DECISION:
        yield from _words(job)
    elif settings.target is not None:
        yield from _readings(job, settings)
    if settings.target is not None and settings.design.days is not None:
        yield from _days(job, settings)


def _settings(job: CheckInput, settings: ScreeningSettings) -> Iterator[Problem]:
    design, limit, target = settings.design, job.method.limit, settings.target
    if target is not None and limit is not None and float(target) > limit:
        yield PROBLEMS.problem("screening-target-above-limit", job.place("target"), target=target, limit=f"{limit:g}",
                               unit=job.method.unit)  # fmt: skip
    if target is not None and settings.reads != DECISION and not design.positives and settings.cut_off is None:
        yield PROBLEMS.problem("screening-no-positives-planned", job.place("design"))
    if design.levels and not design.replicates:
        yield PROBLEMS.problem("screening-no-replicates", job.place("design"))
    hold = settings.negatives_hold
    if hold is not None and target is not None and hold.at_most > LARGEST_SHARE_IN_NEGATIVES * float(target):
        yield PROBLEMS.problem("screening-negatives-too-high", job.place("negatives_hold", "at_most"),
                               **_too_high(job, settings, hold.at_most))  # fmt: skip


def _too_high(job: CheckInput, settings: ScreeningSettings, content: float) -> dict[str, str]:
    most = LARGEST_SHARE_IN_NEGATIVES * float(settings.target or 0)
    return {"content": f"{content:g}", "most": f"{most:g}", "target": settings.target or "", "unit": job.method.unit}


def _levels(job: CheckInput, settings: ScreeningSettings) -> Iterator[Problem]:
    frame, design, target = job.table.frame, settings.design, settings.target_level  # type: ignore[union-attr]
    levels = frame["level"].fillna("")
    known = [BLANK, *([target] if target is not None else []), *design.levels]
    strange = levels[~levels.isin([*known, ""])]
    for row, level in strange.head(MOST_CELLS).items():
        yield PROBLEMS.problem("screening-level-not-declared", job.cell(int(row), "level"), level=level,
                               declared=", ".join(known))  # fmt: skip
    known_by_reference = frame["reference"].notna() if "reference" in frame else levels.eq("-")
    for row in frame.index[levels.eq("") & ~known_by_reference][:MOST_CELLS]:
        yield PROBLEMS.problem("screening-no-level", job.cell(int(row), "level"))
    counts = levels.value_counts()
    for number, level in enumerate(design.levels):
        found, place = int(counts.get(level, 0)), job.place("design", "levels", number)
        if found < design.replicates or not found:
            yield PROBLEMS.problem("screening-fewer-than-planned", place, found=found, planned=design.replicates,
                                   what=f"samples at level {level}")  # fmt: skip
    planned = (("negatives", BLANK, "negative samples"), ("positives", target, "samples at the target"),
               ("compared", "", "compared samples"))  # fmt: skip
    for key, level, what in planned:
        wanted = getattr(design, key)
        found = int(counts.get(level, 0)) if level is not None else 0
        if wanted and not found and key == "positives":
            yield PROBLEMS.problem("screening-no-positives", job.place("data"), target=settings.target)
        elif found < wanted:
            yield PROBLEMS.problem("screening-fewer-than-planned", job.place("design", key), found=found,
                                   planned=wanted, what=what)  # fmt: skip
    if settings.target is not None and not counts.get(BLANK, 0):
        yield PROBLEMS.problem("screening-no-negatives", job.place("data"))


def _negatives(job: CheckInput, settings: ScreeningSettings) -> Iterator[Problem]:
    """Negative samples in which the reference method found more than a fifth of the target."""
    frame = job.table.frame  # type: ignore[union-attr]
    if settings.target is None or "reference" not in frame:
        return
    high = frame["reference"] > LARGEST_SHARE_IN_NEGATIVES * float(settings.target)
    for row in frame.index[frame["level"].fillna("").eq(BLANK) & high][:MOST_CELLS]:
        yield PROBLEMS.problem("screening-negatives-too-high", job.cell(int(row), "reference"),
                               **_too_high(job, settings, float(frame.loc[row, "reference"])))  # fmt: skip


def _words(job: CheckInput) -> Iterator[Problem]:
    frame = job.table.frame  # type: ignore[union-attr]
    words = frame["suspect"].fillna("").str.strip().str.lower()
    for row, text in frame.loc[~words.isin(("yes", "no", "")), "suspect"].head(MOST_CELLS).items():
        yield PROBLEMS.problem("screening-not-yes-or-no", job.cell(int(row), "suspect"), text=text)


def _readings(job: CheckInput, settings: ScreeningSettings) -> Iterator[Problem]:
    """What the cut-off would rest on, and single samples on the wrong side of it."""
    negatives, positives = (_of(job, settings, level) for level in (BLANK, settings.target_level))
    unit = settings.signal_unit if settings.reads == SIGNAL else job.method.unit
    few = 0 < len(positives) < FEWEST_READINGS
    if few:
        yield PROBLEMS.problem("screening-few-positives", job.place("data"), found=len(positives),
                               needed=FEWEST_READINGS)  # fmt: skip
    for values, what in ((positives, "samples at the target"), (negatives, "negative samples")):
        if len(values) >= FEWEST_READINGS and values.nunique() == 1:
            yield PROBLEMS.problem("screening-all-equal", job.place("data"), what=what, n=len(values),
                                   value=f"{values.iloc[0]:g} {unit}")  # fmt: skip
    sign = -1 if settings.response == INVERSE else 1
    if len(positives) and len(negatives) and sign * (negatives.mean() - positives.mean()) >= 0:
        other = PROPORTIONAL if settings.response == INVERSE else INVERSE
        yield PROBLEMS.problem("screening-wrong-direction", job.place("response"), response=settings.response,
                               other=other, negatives=f"{negatives.mean():.4g} {unit}",
                               positives=f"{positives.mean():.4g} {unit}")  # fmt: skip
        return
    if settings.cut_off is not None:
        at = settings.cut_off.value
    elif not few and positives.nunique() > 1:
        from validate.stats.screening import cut_off

        at = cut_off(positives.to_numpy(float), direction=settings.response).value  # type: ignore[arg-type]
    else:
        return
    shown = {"at": f"{at:.4g} {unit}"}
    for row, value in negatives[sign * (negatives - at) > 0].head(MOST_CELLS).items():
        yield PROBLEMS.problem("screening-negative-suspect", job.cell(int(row), settings.role), value=f"{value:g}",
                               **shown)  # fmt: skip
    for row, value in positives[sign * (positives - at) <= 0].head(MOST_CELLS).items():
        yield PROBLEMS.problem("screening-positive-missed", job.cell(int(row), settings.role), value=f"{value:g}",
                               **shown)  # fmt: skip


def _of(job: CheckInput, settings: ScreeningSettings, level: str | None) -> pd.Series:
    """Numerical readings of one level, by row of the file."""
    frame = job.table.frame  # type: ignore[union-attr]
    return frame.loc[frame["level"].fillna("-").eq(level), settings.role].dropna()


def _days(job: CheckInput, settings: ScreeningSettings) -> Iterator[Problem]:
    frame, place = job.table.frame, job.place("data")  # type: ignore[union-attr]
    if "day" not in frame or frame["day"].fillna("").eq("").all():
        yield PROBLEMS.problem("screening-days-not-recorded", place)
    elif frame["day"].nunique() < min(FEWEST_DAYS, settings.design.days or FEWEST_DAYS):
        yield PROBLEMS.problem("screening-few-days", place, found=frame["day"].nunique(), planned=settings.design.days)
