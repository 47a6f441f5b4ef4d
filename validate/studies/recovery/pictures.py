"""Pictures: recovery by level, and results by day."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from validate.studies.contract import StudyInput
from validate.studies.recovery.samples import Level, is_recorded
from validate.vocabulary.finding import Finding
from validate.vocabulary.plot import Axis, Plot, Points, Rule, Whiskers

MOST_POINTS = 2000
MOST_DAYS = 60
SPREAD = 0.24
"""Half the width over which single results of a level are spread, in steps of the axis."""
SHIFT = 0.34
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
    parts = [_thinned(place + SPREAD * (_unit_places(level) - 0.5) - 0.1, level.single_recoveries, level, share) for place, level in shown]
    means = [(place, f) for place, level in shown for f in findings if f.name == "mean_recovery" and f.level == level.level]
    limits = [f.interval("shown") for _, f in means]
    whiskers = Whiskers(
        x=tuple(place + SHIFT - 0.1 for place, _ in means),
        y=tuple(f.value for _, f in means),
        low=tuple(None if i is None else i.low for i in limits),
        high=tuple(None if i is None else i.high for i in limits),
        label="mean, 95 % limits",
    )
    lowest = min(level.single_recoveries.min() for _, level in shown)
    highest = max(level.single_recoveries.max() for _, level in shown)
    thinned = "; only a share of the results, evenly through their order, is drawn" if sum(x.n for _, x in shown) > MOST_POINTS else ""
    return Plot(
        name="recovery_by_level",
        title="Recovery by level",
        sentence=f"Single results stand at the left of each level, their mean with its 95 % limits at the right{thinned}.",
        description=f"Recovery in percent at {len(shown)} levels. Single results run from {lowest:.3g} % to {highest:.3g} %. "
        + "; ".join(f"mean at {f.level} {job.method.unit}: {f.value:.3g} %" for _, f in means)
        + ".",
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
    days = list(dict.fromkeys(frame[role]))
    if not 2 <= len(days) <= MOST_DAYS:
        return None
    share = MOST_POINTS // len(shown)
    layers = tuple(_points([_day_part(frame, role, days, level, share)], f"level {level.level}", mark)
                   for level, mark in _marked(shown))  # fmt: skip
    return Plot(
        name="results_by_day",
        title=f"Results by {role}",
        sentence=f"Each result in percent of the mean of its level; where all levels rise or fall together, the {role} made it.",
        description=f"Results of {len(shown)} levels over {len(days)} {role}s, each in percent of the mean of its level.",
        x=Axis(label=role, categories=tuple(map(str, days))),
        y=Axis(label="found (% of the mean of its level)"),
        layers=(*layers, Rule(at=100.0, style="dotted")),
    )


def _day_part(frame: object, role: str, days: list[str], level: Level, share: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    place = {day: number for number, day in enumerate(days, start=1)}
    labels = frame.loc[level.index, role]  # type: ignore[attr-defined]
    x = labels.map(place).to_numpy(float)
    return _thinned(x, 100 * level.found / level.mean_found, level, share)


def _marked(levels: list[Level]) -> Iterator[tuple[Level, str]]:
    return ((level, MARKS[number % len(MARKS)]) for number, level in enumerate(levels))


def _unit_places(level: Level) -> np.ndarray:
    """Places from 0 to 1 in the order of the file, so that points of one level do not hide each other."""
    return np.linspace(0.0, 1.0, level.n) if level.n > 1 else np.array([0.5])


def _thinned(x: np.ndarray, y: np.ndarray, level: Level, most: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """At most `most` points, evenly through the sorted results, ends included."""
    rows = level.index.to_numpy()
    if len(y) <= most:
        return x, y, rows
    kept = np.sort(np.argsort(y, kind="stable")[np.linspace(0, len(y) - 1, most).astype(int)])
    return x[kept], y[kept], rows[kept]


def _points(parts: list[tuple[np.ndarray, np.ndarray, np.ndarray]], label: str, mark: str) -> Points:
    x, y, rows = (np.concatenate(column).tolist() for column in zip(*parts, strict=True))
    return Points(x=tuple(x), y=tuple(y), rows=tuple(int(r) for r in rows), label=label, mark=mark)  # type: ignore[arg-type]
