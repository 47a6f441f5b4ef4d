"""Readings that cannot be: below the floor of the reading, or below nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from validate.studies.contract import Method
from validate.tables.reading import TableReading
from validate.tables.table import Column
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)
MOST_CELLS = 20
"""Cells of one column that are named one by one."""


def impossible_readings(reading: TableReading, columns: Iterable[Column], method: Method) -> Iterator[Problem]:
    """Contents below the declared floor (an error), or negative where no floor is declared (a notice)."""
    if reading.reported is None:
        return
    code, least = ("content-negative", 0.0) if method.floor is None else ("content-below-floor", method.floor)
    frame = reading.reported.frame
    for column in columns:
        if column.role not in frame or column.type != "number" or column.unit != "method":
            continue
        values = frame[column.role]
        for row, value in values[values < least].head(MOST_CELLS).items():
            yield PROBLEMS.problem(
                code, reading.cell(int(row), column.role), value=f"{value:g}", floor=f"{least:g}", unit=method.unit
            )
