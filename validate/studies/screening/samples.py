"""The table sorted into negative samples, samples at the target, further levels, and compared samples."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from validate.studies.contract import StudyInput
from validate.studies.screening.settings import BLANK, DECISION, SIGNAL, ScreeningSettings
from validate.vocabulary.finding import Rows

if TYPE_CHECKING:
    import pandas as pd

    from validate.tables.table import Table

NOTHING = ("", "NA", "N/A")
"""Marks of a result that was never obtained; any other mark (`<2`, `n.d.`) is a censored reading."""


@dataclass(frozen=True)
class Group:
    """Samples of one level with what the test gave: numbers, marks (`<2`) or words."""

    level: str
    frame: pd.DataFrame = field(repr=False)
    """Rows with a result, by row of the file."""
    marks: pd.Series = field(repr=False)
    readings: np.ndarray
    """Numerical readings; empty for a test that decides itself."""
    censored: tuple[int, ...]
    missing: tuple[int, ...]
    rows: tuple[Rows, ...]

    @property
    def n(self) -> int:
        """Samples with a result of any form."""
        return len(self.frame)

    @cached_property
    def days(self) -> int | None:
        """Days on which they were measured; None where a day is not recorded."""
        return int(self.frame["day"].nunique()) if is_recorded(self.frame, "day") else None


@dataclass(frozen=True)
class Samples:
    """Everything that the figures work on."""

    job: StudyInput
    negatives: Group
    positives: Group | None
    """None for a protocol without a target."""
    further: tuple[Group, ...]
    """One for each further level, in ascending order, empty ones included."""
    compared: Group
    """Samples that only the reference method knows."""

    @property
    def settings(self) -> ScreeningSettings:
        return self.job.settings  # type: ignore[return-value]

    @property
    def table(self) -> Table:
        return self.job.table  # type: ignore[return-value]

    @property
    def unit(self) -> str:
        """Unit of what the test reads."""
        return self.settings.signal_unit if self.settings.reads == SIGNAL else self.job.method.unit

    @property
    def target(self) -> float | None:
        level = self.settings.target_level
        return None if level is None else float(level)

    @property
    def with_analyte(self) -> tuple[Group, ...]:
        """Groups above 0 in ascending order."""
        groups = (*self.further, *((self.positives,) if self.positives is not None else ()))
        return tuple(sorted(groups, key=lambda group: float(group.level)))

    @property
    def groups(self) -> tuple[Group, ...]:
        return (self.negatives, *self.with_analyte)


def samples_of(job: StudyInput) -> Samples:
    """Sort the rows by their level; those without one are compared samples."""
    settings: ScreeningSettings = job.settings  # type: ignore[assignment]
    levels = job.table.frame["level"].fillna("")  # type: ignore[union-attr]
    target = settings.target_level

    def of(level: str) -> Group:
        return _group(job.table, settings, level, levels.eq(level).to_numpy(bool))  # type: ignore[arg-type]

    return Samples(
        job=job,
        negatives=of(BLANK),
        positives=None if target is None else of(target),
        further=tuple(of(level) for level in sorted(settings.design.levels, key=float)),
        compared=of(""),
    )


def _group(table: Table, settings: ScreeningSettings, level: str, chosen: np.ndarray) -> Group:
    part, role = table.frame[chosen], settings.role
    marks = table.marks.loc[part.index, role].fillna("").astype(str).str.strip()
    if settings.reads == DECISION:
        words = part[role].fillna("").astype(str).str.strip().str.lower()
        nothing = ~words.isin(("yes", "no"))
        readings, censored = np.array([]), ()
    else:
        is_number = part[role].notna()
        nothing = ~is_number & marks.str.upper().isin(NOTHING)
        readings = part.loc[is_number, role].to_numpy(float)
        censored = tuple(int(row) for row in part.index[~is_number & ~nothing])
    kept = part[~nothing.to_numpy(bool)]
    return Group(
        level=level,
        frame=kept,
        marks=marks.loc[kept.index],
        readings=readings,
        censored=censored,
        missing=tuple(int(row) for row in part.index[nothing.to_numpy(bool)]),
        rows=(table.rows(kept.index),) if len(kept) else (),
    )


def is_recorded(frame: pd.DataFrame, role: str) -> bool:
    """Whether the table has the column and a label in each of its cells."""
    return role in frame and len(frame) > 0 and bool((frame[role].notna() & frame[role].ne("")).all())
