"""What is wrong or worth telling before a study of homogeneity is evaluated."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from validate.studies.contract import CheckInput
from validate.studies.homogeneity.kinds import FEWEST_UNITS
from validate.studies.homogeneity.samples import NO_RESULT, Occasion, samples_of
from validate.studies.homogeneity.settings import HomogeneitySettings
from validate.vocabulary.problem import Problem, ProblemCatalogue

if TYPE_CHECKING:
    from validate.tables.table import Table

PROBLEMS = ProblemCatalogue(__file__)
MOST_TOLD = 10
"""Cells of one kind of fault that are named singly."""


def check(asked: CheckInput) -> Iterator[Problem]:
    """Problems of settings and table of one study, all at once."""
    settings: HomogeneitySettings = asked.settings  # type: ignore[assignment]
    yield from _design(asked, settings)
    if asked.table is None:
        return
    yield from _cells(asked, asked.table)
    yield from _twice(asked, asked.table)
    samples = samples_of(asked.table, asked.method.floor)
    if samples is None:
        yield PROBLEMS.problem("no-results", asked.place("data"), study=asked.name)
        return
    first = samples.first
    if len(first.labels) < 2:
        yield PROBLEMS.problem("one-unit", asked.place("data"), unit=first.labels[0])
    elif first.values.size <= len(first.labels):
        yield PROBLEMS.problem("no-replicates", asked.place("data"), units=len(first.labels))
    elif np.ptp(first.values) == 0:
        row = int(first.rows[0])
        yield PROBLEMS.problem(
            "all-equal", asked.cell(row, "result"), value=f"{first.values[0]:g}", count=first.values.size
        )
    yield from _single_results(asked, first)
    yield from _places(asked, asked.table, first)
    if settings.stability is not None and not samples.later:
        yield PROBLEMS.problem("no-later-occasion", asked.place("stability"))


def _design(asked: CheckInput, settings: HomogeneitySettings) -> Iterator[Problem]:
    if settings.design.units is not None and settings.design.units < FEWEST_UNITS:
        yield PROBLEMS.problem(
            "few-units", asked.place("design", "units"), units=settings.design.units, needed=FEWEST_UNITS
        )
    if settings.design.replicates < 2:
        yield PROBLEMS.problem("one-replicate", asked.place("design", "replicates"))
    predicted = settings.sigma_pt.model
    if predicted and (asked.method.method_defined or asked.method.mass_fraction_per_unit is None):
        why = "the measurand is defined by its method" if asked.method.method_defined else (
            f"{asked.method.unit} is no mass fraction"
        )  # fmt: skip
        yield PROBLEMS.problem("no-sigma-from-model", asked.place("sigma_pt", "model"), model=predicted, why=why)


def _cells(asked: CheckInput, table: Table) -> Iterator[Problem]:
    for role, code in (("unit", "unit-missing"), ("days", "days-missing")):
        if role not in table.frame:
            continue
        column = table.frame[role]
        empty = (column.isna() | (column.astype(str) == "")).to_numpy(dtype=bool)
        for row in table.frame.index[empty][:MOST_TOLD]:
            yield PROBLEMS.problem(code, asked.cell(int(row), role))


def _twice(asked: CheckInput, table: Table) -> Iterator[Problem]:
    """A numbered portion of a unit that stands in the table a second time on one occasion."""
    if "replicate" not in table.frame:
        return
    keys = [key for key in ("days", "unit", "replicate") if key in table.frame]
    frame = table.frame[keys]
    for row in frame.index[frame.duplicated().to_numpy(dtype=bool)][:MOST_TOLD]:
        same = (frame == frame.loc[row]).all(axis=1).to_numpy(dtype=bool)
        yield PROBLEMS.problem(
            "twice-in-a-unit",
            asked.cell(int(row), "replicate"),
            unit=frame.loc[row, "unit"],
            replicate=frame.loc[row, "replicate"],
            first=int(frame.index[same][0]),
        )


def _places(asked: CheckInput, table: Table, first: Occasion) -> Iterator[Problem]:
    """Places in the filling order that are no numbers, and units that have two."""
    if first.order is None:
        return
    marks = table.marks["order"]
    for row in table.frame.index[~marks.isin(("", *NO_RESULT)).to_numpy(dtype=bool)][:MOST_TOLD]:
        yield PROBLEMS.problem("place-no-number", asked.cell(int(row), "order"), text=marks.loc[row])
    known = np.isfinite(first.order)
    for label in first.labels:
        at = known & (first.units == label)
        places = list(dict.fromkeys(first.order[at].tolist()))
        if len(places) > 1:
            row = int(first.rows[at & (first.order == places[1])][0])
            said = " and ".join(f"{place:g}" for place in places)
            yield PROBLEMS.problem("two-places", asked.cell(row, "order"), unit=label, places=said)


def _single_results(asked: CheckInput, first: Occasion) -> Iterator[Problem]:
    labels, counts = np.unique(first.units.astype(str), return_counts=True)
    for label in labels[counts == 1][:MOST_TOLD] if counts.max() > 1 else ():
        row = int(first.rows[first.units == label][0])
        yield PROBLEMS.problem("single-result", asked.cell(row, "unit"), unit=label)
