"""The design as planned and as carried out, and what varied among the results."""

from __future__ import annotations

from typing import TYPE_CHECKING

from validate.studies.contract import StudyInput
from validate.studies.recovery.grouping import Grouping, is_recorded
from validate.studies.recovery.samples import Level
from validate.studies.recovery.settings import FACTORS, RecoverySettings
from validate.vocabulary.evaluation import DesignFact, Varied

if TYPE_CHECKING:
    import pandas as pd

MOST_NAMED = 8


def design_facts(job: StudyInput, levels: tuple[Level, ...]) -> tuple[DesignFact, ...]:
    """Levels, replicates, days, analysts: planned against carried out."""
    design = _settings(job).design
    with_results = [level for level in levels if level.n]
    facts = [
        DesignFact(
            name=f"levels ({job.method.unit})",
            planned=", ".join(design.levels),
            carried_out=", ".join(level.level for level in with_results) or "none",
            short=len(with_results) < len(levels),
        ),
        _replicates(design.replicates, with_results, planned_days=design.days),
    ]
    for name, role, planned in (("days", "day", design.days), ("analysts", "analyst", design.analysts)):
        counts = [_distinct(job, level, role) for level in with_results]
        if planned is not None:
            facts.append(_factor(name, planned, counts))
    facts.append(
        DesignFact(
            name="content of the samples",
            planned=_settings(job).contamination,
            carried_out="as planned, by declaration",
        )
    )
    return tuple(facts)


def varied_factors(job: StudyInput) -> tuple[Varied, ...]:
    """Days, runs, analysts, instruments, lots and calibrations: varied, constant or not recorded."""
    return tuple(_varied(job.table.frame, name, role) for name, role in FACTORS)


def facts_of(job: StudyInput, levels: tuple[Level, ...]) -> dict[str, str]:
    """Short texts for the section."""
    settings = _settings(job)
    facts = {"contamination": settings.contamination, "corrected": "not corrected for recovery"}
    if settings.corrected_for_recovery:
        facts["corrected"] = "corrected for recovery"
        if settings.correction:
            facts["corrected"] += f" of {settings.correction.recovery_percent:g} %, from: {settings.correction.origin}"
    runs = next((level.runs for level in levels if level.runs is not None), None)
    days = next((level.days for level in levels if level.days is not None), None)
    facts["runs"] = _words_for_runs(job, runs, days)
    native = next((level.native for level in levels if level.native is not None), None)
    if native is not None:
        facts["native"] = f"{native.value:.4g} {job.method.unit}, {native.words}"
    elif any(level.paired_native is not None for level in levels):
        facts["native"] = "subtracted result by result or day by day"
    return facts


def _words_for_runs(job: StudyInput, runs: Grouping | None, days: Grouping | None) -> str:
    if runs is None or days is None:
        return "Neither days nor runs are recorded: only the spread of all results of a level can be given."
    words = f"Intermediate precision is taken between {runs.many}."
    frame = job.table.frame
    if runs.one == "day" and is_recorded(frame, "analyst") and frame["analyst"].nunique() > 1:
        shared = frame.groupby("day")["analyst"].nunique().max() > 1
        words += (
            " Several analysts worked on one day: repeatability then holds the difference between analysts."
            if shared
            else " Each day had one analyst, so that the spread between days holds the spread between analysts."
        )
    if runs is not days and days.one == "day":
        words += " Runs of one day are not independent; the interval of the mean rests on the days."
    return words


def _replicates(planned: int, levels: list[Level], *, planned_days: int | None) -> DesignFact:
    by_day = planned_days is not None and all(level.days is not None for level in levels)
    counts = [int(c) for level in levels for c in (_sizes(level.days) if by_day else [level.n])]
    least, most = (min(counts), max(counts)) if counts else (0, 0)
    return DesignFact(
        name="results per level and day" if by_day else "results per level",
        planned=str(planned if by_day or planned_days is None else planned * planned_days),
        carried_out=str(least) if least == most else f"{least} to {most}",
        short=least < (planned if by_day or planned_days is None else planned * planned_days),
    )


def _sizes(groups: Grouping | None) -> list[int]:
    import numpy as np

    return [] if groups is None else np.bincount(groups.codes).tolist()


def _factor(name: str, planned: int, counts: list[int | None]) -> DesignFact:
    known = [count for count in counts if count is not None]
    if not known or len(known) < len(counts):
        return DesignFact(name=name, planned=str(planned), carried_out="not recorded", short=True)
    least, most = min(known), max(known)
    carried_out = str(least) if least == most else f"{least} to {most} by level"
    return DesignFact(name=name, planned=str(planned), carried_out=carried_out, short=least < planned)


def _distinct(job: StudyInput, level: Level, role: str) -> int | None:
    part = job.table.frame.loc[level.index]
    return int(part[role].nunique()) if is_recorded(part, role) else None


def _varied(frame: pd.DataFrame, name: str, role: str) -> Varied:
    if not is_recorded(frame, role):
        return Varied(factor=name, state="not recorded")
    labels = list(frame[role].unique())
    named = ", ".join(map(str, labels[:MOST_NAMED])) + (" …" if len(labels) > MOST_NAMED else "")
    return Varied(factor=name, state="varied" if len(labels) > 1 else "constant", count=len(labels), detail=named)


def _settings(job: StudyInput) -> RecoverySettings:
    return job.settings  # type: ignore[return-value]
