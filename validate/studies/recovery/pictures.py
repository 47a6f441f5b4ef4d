"""Pictures: recovery by level, and results by day."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from validate.studies.contract import StudyInput
from validate.studies.recovery.grouping import is_recorded
from validate.studies.recovery.samples import Level
from validate.vocabulary.finding import Finding
from validate.vocabulary.plot import Axis, Plot, Points, Rule, Whiskers

if TYPE_CHECKING:
    import pandas as pd

Part = tuple[np.ndarray, np.ndarray, np.ndarray]
"""x, y and file rows of the points of one level."""
MOST_POINTS = 2000
MOST_DAYS = 60
SPREAD = 0.24
"""Width over which single results of a level are spread, in steps of the axis."""
LEFT = 0.1
SHIFT = 0.24
"""The mean stands to the right of its results."""
MARKS = ("dot", "ring", "cross", "square", "triangle")


def pictures(job: StudyInput, levels: tuple[Level, ...], findings: tuple[Finding, ...]) -> tuple[Plot, ...]:
    """Those of the pictures for which there are results."""
    return tuple(plot for plot in (_by_level(job, levels, findings), _by_day(job, levels)) if plot is not None)


def _by_level(job: StudyInput, levels: tuple[Level, ...], findings: tuple[Finding, ...]) -> Plot | None:
    shown = [(place, level) for place, level in enumerate(levels, start=1) if level.n and level.reference is not None]
    if not shown:
        return None
    share = MOST_POINTS // len(shown)
    parts = [_thinned(_places(place, level), level.single_recoveries, level, share) for place, level in shown]
    by_level = {f.level: f for f in findings if f.name == "mean_recovery"}
    means = [(place, by_level[level.level]) for place, level in shown]
    limits = [f.interval("shown") for _, f in means]
    whiskers = Whiskers(
        x=tuple(place + SHIFT for place, _ in means),
        y=tuple(f.value for _, f in means),
        low=tuple(None if i is None else i.low for i in limits),
        high=tuple(None if i is None else i.high for i in limits),
        label="mean, 95 % limits",
    )
    lowest = min(level.single_recoveries.min() for _, level in shown)
    highest = max(level.single_recoveries.max() for _, level in shown)
    spoken = "; ".join(f"mean at {f.level} {job.method.unit}: {f.value:.3g} %" for _, f in means)
    drawn = sum(len(rows) for _, _, rows in parts)
    thinned = (
        ""
        if drawn == sum(level.n for _, level in shown)
        else f"; {drawn} results are drawn, evenly through their order"
    )
    return Plot(
        name="recovery_by_level",
        title="Recovery by level",
        sentence="Single results stand at the left of each level, their mean with its 95 % limits at the right"
        f"{thinned}.",
        description=f"Recovery in percent, number of levels: {len(shown)}. Single results run from {lowest:.3g} % "
        f"to {highest:.3g} %. {spoken}.",
        x=Axis(label=f"level ({job.method.unit})", categories=tuple(level.level for level in levels)),
        y=Axis(label="recovery (%)"),
        layers=(_points(parts, "single results", "dot"), whiskers, Rule(at=100.0, label="100 %", style="dotted")),
        criterion_of="mean_recovery",
    )


def _by_day(job: StudyInput, levels: tuple[Level, ...]) -> Plot | None:
    """Found in percent of the mean of the level, so that levels can share one scale."""
    shown = [level for level in levels if level.n > 1 and level.days is not None and level.mean_found > 0]
    frame = job.table.frame
    if not shown:
        return None
    role = shown[0].days.one
    if not is_recorded(frame, role):
        return None
    days = list(frame[role].unique())
    if not 2 <= len(days) <= MOST_DAYS:
        return None
    share = MOST_POINTS // len(shown)
    layers = tuple(_points([_day_part(frame, role, days, level, share)], f"level {level.level}", mark)
                   for level, mark in _marked(shown))  # fmt: skip
    return Plot(
        name="results_by_day",
        title=f"Results by {role}",
        sentence="Each result in percent of the mean of its level; "
        f"where all levels rise or fall together, the {role} made it.",
        description=f"Results over {len(days)} {role}s, number of levels: {len(shown)}; "
        "each in percent of the mean of its level.",
        x=Axis(label=role, categories=tuple(map(str, days))),
        y=Axis(label="found (% of the mean of its level)"),
        layers=(*layers, Rule(at=100.0, style="dotted")),
    )


def _day_part(frame: pd.DataFrame, role: str, days: list[str], level: Level, share: int) -> Part:
    place = {day: number for number, day in enumerate(days, start=1)}
    labels = frame.loc[level.index, role]
    x = labels.map(place).to_numpy(float)
    return _thinned(x, 100 * level.found / level.mean_found, level, share)


def _marked(levels: list[Level]) -> Iterator[tuple[Level, str]]:
    return ((level, MARKS[number % len(MARKS)]) for number, level in enumerate(levels))


def _places(place: int, level: Level) -> np.ndarray:
    """Left of the level, in the order of the file, so that the points do not hide each other."""
    return place - LEFT + SPREAD * (np.arange(level.n) / max(1, level.n - 1) - 0.5)


def _thinned(x: np.ndarray, y: np.ndarray, level: Level, most: int) -> Part:
    """At most `most` points, evenly through the sorted results, ends included."""
    rows = level.index.to_numpy()
    if len(y) <= most:
        return x, y, rows
    kept = np.sort(np.argsort(y, kind="stable")[np.linspace(0, len(y) - 1, most).astype(int)])
    return x[kept], y[kept], rows[kept]


def _points(parts: list[Part], label: str, mark: str) -> Points:
    x, y, rows = (np.concatenate(column).tolist() for column in zip(*parts, strict=True))
    return Points(x=tuple(x), y=tuple(y), rows=tuple(int(r) for r in rows), label=label, mark=mark)  # type: ignore[arg-type]
