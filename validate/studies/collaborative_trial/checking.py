"""What is wrong or worth telling before a collaborative trial is evaluated."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from validate.studies.collaborative_trial.kinds import BY_NAME, MINIMUM_LABORATORIES
from validate.studies.collaborative_trial.level_data import LevelData, by_level
from validate.studies.collaborative_trial.settings import BINARY, SPLIT, CollaborativeTrialSettings
from validate.studies.collaborative_trial.words import counted
from validate.studies.contract import CheckInput
from validate.vocabulary.problem import Problem, ProblemCatalogue

if TYPE_CHECKING:
    from validate.tables.table import Table

PROBLEMS = ProblemCatalogue(__file__)
MOST_TOLD = 20
"""Cells of one kind of fault that are named singly."""


def check(asked: CheckInput) -> Iterator[Problem]:
    """Problems of settings and table of one study, all at once."""
    settings: CollaborativeTrialSettings = asked.settings  # type: ignore[assignment]
    yield from _settings(asked, settings)
    table = asked.table
    if table is None:
        return
    if len(table.frame) == 0:
        yield PROBLEMS.problem("no-results", asked.place("data"), study=asked.name)
        return
    yield from _labels(asked, settings, table)
    yield from _levels(asked, settings, table)
    yield from _twice(asked, settings, table)
    if settings.design.kind == BINARY:
        yield from _counts(asked, table)
    levels = by_level(table, settings, asked.method.floor)
    for data in levels:
        yield from _level(asked, settings, data)
    if all(len(data.labels) < 2 for data in levels):
        labs = sorted({lab for data in levels for lab in data.labels})
        yield PROBLEMS.problem("one-laboratory", asked.place("data"), laboratory=", ".join(labs) or "none")


def _settings(asked: CheckInput, settings: CollaborativeTrialSettings) -> Iterator[Problem]:
    planned = settings.design.laboratories
    if planned is not None and planned < MINIMUM_LABORATORIES:
        yield PROBLEMS.problem(
            "few-laboratories", asked.place("design", "laboratories"), count=planned, needed=MINIMUM_LABORATORIES
        )
    for name in settings.accept:
        if name in BY_NAME and name not in settings.names:
            yield PROBLEMS.problem(
                "finding-of-another-design",
                asked.place("accept", name),
                finding=name,
                kind=settings.design.kind,
                given=", ".join(settings.names),
            )


def _labels(asked: CheckInput, settings: CollaborativeTrialSettings, table: Table) -> Iterator[Problem]:
    for role in ("laboratory", "run", "sample"):
        if role not in table.frame:
            continue
        column = table.frame[role]
        empty = (column.isna() | (column.astype(str) == "")).to_numpy(dtype=bool)
        for row in table.frame.index[empty][:MOST_TOLD]:
            yield PROBLEMS.problem("label-missing", asked.cell(int(row), role), what=role)


def _levels(asked: CheckInput, settings: CollaborativeTrialSettings, table: Table) -> Iterator[Problem]:
    found = table.frame["level"].to_numpy(dtype=object)
    for level in list(dict.fromkeys(found.tolist())):
        if level not in settings.design.levels:
            row = int(table.frame.index[found == level][0])
            declared = ", ".join(settings.design.levels)
            yield PROBLEMS.problem("unknown-level", asked.cell(row, "level"), level=level, declared=declared)


def _twice(asked: CheckInput, settings: CollaborativeTrialSettings, table: Table) -> Iterator[Problem]:
    """A result of a laboratory that stands in its cell a second time, by the columns that tell results apart."""
    frame, kind = table.frame, settings.design.kind
    if kind == SPLIT:
        keys = ["laboratory", "level", "sample"]
    elif "replicate" in frame:
        keys = ["laboratory", "level", *(["run"] if "run" in frame else []), "replicate"]
    elif kind == BINARY and "total" in frame:
        keys = ["laboratory", "level"]
    else:
        return
    again = frame.duplicated(keys).to_numpy(dtype=bool)
    for row in frame.index[again][:MOST_TOLD]:
        same = (frame[keys] == frame.loc[row, keys]).all(axis=1)
        cell = ", ".join(f"{key} {frame.loc[row, key]}" for key in keys)
        first = int(frame.index[same.to_numpy(dtype=bool)][0])
        yield PROBLEMS.problem("twice-in-a-cell", asked.cell(int(row), "laboratory"), cell=cell, first=first)


def _counts(asked: CheckInput, table: Table) -> Iterator[Problem]:
    frame = table.frame
    total = frame["total"] if "total" in frame else frame["positive"] * 0 + 1
    wrong = ~((frame["positive"] % 1 == 0) & (total % 1 == 0) & (frame["positive"] <= total) & (total >= 1))
    for row in frame.index[wrong.to_numpy(dtype=bool)][:MOST_TOLD]:
        x, n = frame.loc[row, "positive"], total.loc[row]
        yield PROBLEMS.problem("not-a-count", asked.cell(int(row), "positive"), x=f"{x:g}", n=f"{n:g}")


def _level(asked: CheckInput, settings: CollaborativeTrialSettings, data: LevelData) -> Iterator[Problem]:
    place = asked.place("design", "levels", settings.design.levels.index(data.level))
    if len(data.labels) < 2:
        yield PROBLEMS.problem("level-unusable", place, level=data.level, count=counted(len(data.labels), "laboratory"))
    elif settings.design.kind == BINARY:
        yield from _single_portions(asked, data)
    elif settings.design.kind == SPLIT:
        samples = list(dict.fromkeys(data.sample.tolist()))
        if len(samples) != 2:
            yield PROBLEMS.problem("not-two-samples", place, level=data.level, samples=", ".join(samples) or "none")
        else:
            yield from _halves(asked, data, place)
    elif data.values.size > 2 and np.ptp(data.values) == 0:
        yield PROBLEMS.problem("all-equal", place, level=data.level, value=f"{data.values[0]:g}")
    elif data.values.size == len(data.labels):
        yield PROBLEMS.problem("no-replicates", place, level=data.level)
    elif data.run is not None and len(set(zip(data.laboratories, data.run, strict=True))) == len(data.labels):
        yield PROBLEMS.problem("one-run", place, level=data.level)


def _halves(asked: CheckInput, data: LevelData, place: object) -> Iterator[Problem]:
    """Laboratories with one of the two samples, each at its row; a level that has too few with both."""
    both = data.pairs()[0]
    for lab in [lab for lab in data.labels if lab not in both][:MOST_TOLD]:
        at = data.laboratories == lab
        row, sample = int(data.rows[at][0]), data.sample[at][0]
        yield PROBLEMS.problem(
            "half-a-pair", asked.cell(row, "sample"), laboratory=lab, level=data.level, sample=sample
        )
    if len(both) < 3:
        yield PROBLEMS.problem("few-pairs", place, level=data.level, count=counted(len(both), "laboratory"))


def _single_portions(asked: CheckInput, data: LevelData) -> Iterator[Problem]:
    labels, _, totals = data.counts()
    for lab in [lab for lab, n in zip(labels, totals.tolist(), strict=True) if n == 1][:MOST_TOLD]:
        row = int(data.rows[data.laboratories == lab][0])
        yield PROBLEMS.problem("single-portion", asked.cell(row, "laboratory"), laboratory=lab, level=data.level)
