"""The points of a calibration by level, their weights, and the line through them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from validate.stats.regression import Line, level_weights, line
from validate.studies.contract import StudyInput
from validate.studies.linearity.settings import (
    BY_FUNCTION,
    FOUND,
    POWERS,
    LinearitySettings,
    reading_resolution,
    reading_role,
)
from validate.vocabulary.finding import Rows

if TYPE_CHECKING:
    import pandas as pd

LONGEST_RANGES = 2000
FEWEST_DAYS = 2
NO_SCATTER = 1e-12
"""Scatter below this share of the readings is the rounding of the arithmetic: readings that repeat exactly."""


@dataclass(frozen=True)
class LevelPoints:
    """The readings at one level; `days` numbers their day, None where fewer than two are recorded."""

    level: str
    x: float
    y: np.ndarray
    index: pd.Index
    days: np.ndarray | None
    censored: tuple[int, ...] = ()
    missing: tuple[int, ...] = ()

    @property
    def n(self) -> int:
        return len(self.y)

    @property
    def sd(self) -> float | None:
        return float(np.std(self.y, ddof=1)) if self.n > 1 else None


@dataclass(frozen=True)
class Calibration:
    """Levels in ascending order, with the line through their readings."""

    job: StudyInput
    levels: tuple[LevelPoints, ...]
    """Every declared level, those without readings included."""

    @property
    def settings(self) -> LinearitySettings:
        return self.job.settings  # type: ignore[return-value]

    @property
    def measured(self) -> tuple[LevelPoints, ...]:
        return tuple(level for level in self.levels if level.n)

    @property
    def above_zero(self) -> tuple[LevelPoints, ...]:
        """The measured levels of which a percentage exists."""
        return tuple(level for level in self.measured if level.x > 0)

    @property
    def shows_content(self) -> bool:
        """The instrument has a line of its own: what it shows is held against the nominal content."""
        return self.settings.form == FOUND

    @property
    def by_day(self) -> bool:
        """Whether every level was measured on several days, so that day means carry the limits."""
        return bool(self.above_zero) and all(level.days is not None for level in self.above_zero)

    @property
    def x(self) -> np.ndarray:
        return np.concatenate([np.full(level.n, level.x) for level in self.measured] or [np.empty(0)])

    @property
    def y(self) -> np.ndarray:
        return np.concatenate([level.y for level in self.measured] or [np.empty(0)])

    @property
    def index(self) -> pd.Index:
        frame = self.job.table.frame
        return frame.index[:0].append([level.index for level in self.measured])

    @property
    def resolution(self) -> float | None:
        return reading_resolution(self.settings, self.job.method.resolution)

    @property
    def unit(self) -> str:
        """Unit of the readings."""
        return self.job.method.unit if self.shows_content else self.settings.signal.unit

    def weights_at(self, x: np.ndarray) -> np.ndarray | None:
        """Weights by the declared rule, None for equal ones."""
        settings = self.settings
        if settings.weights in POWERS:
            return level_weights(x, power=POWERS[settings.weights], floor=settings.weight_floor)
        if settings.weights == BY_FUNCTION:
            function = settings.variance_function
            return 1 / (function.constant**2 + (function.relative_percent * np.asarray(x) / 100) ** 2)
        return None

    @property
    def weights(self) -> np.ndarray | None:
        return self.weights_at(self.x)

    @cached_property
    def _fitted(self) -> tuple[Line | None, str]:
        try:
            fit = line(self.x, self.y, self.weights, self.settings.through_origin)
        except ValueError as error:
            return None, str(error)
        return (fit, "") if fit.slope else (None, "the slope is 0: the readings do not follow the level")

    @property
    def fit(self) -> Line | None:
        return self._fitted[0]

    @property
    def why_no_fit(self) -> str:
        return self._fitted[1]

    @cached_property
    def rows(self) -> tuple[Rows, ...]:
        return rows_of(self.job, self.index)

    def between(self, low: float, high: float, *, with_zero: bool) -> Calibration:
        """The calibration of the levels from `low` to `high` (and the blank) alone; itself when these are all."""
        kept = tuple(lv for lv in self.levels if low <= lv.x <= high or (with_zero and lv.x == 0))
        return self if len(kept) == len(self.levels) else replace(self, levels=kept)


def calibration_of(job: StudyInput) -> Calibration:
    """The readings of every declared level."""
    settings: LinearitySettings = job.settings  # type: ignore[assignment]
    parts = dict(list(job.table.frame.groupby("level", sort=False)))
    levels = sorted(dict.fromkeys(settings.design.levels), key=float)
    return Calibration(job, tuple(_level(job, level, parts.get(level)) for level in levels))


def _level(job: StudyInput, level: str, part: pd.DataFrame | None) -> LevelPoints:
    part = job.table.frame.iloc[:0] if part is None else part
    role = reading_role(job.settings)  # type: ignore[arg-type]
    numeric = part[role].notna()
    kept, without = part[numeric], part.index[~numeric]
    marks = job.table.marks.loc[without, role] if len(without) else []
    is_censored = [bool(mark) and mark not in ("NA", "") for mark in marks]
    return LevelPoints(
        level=level,
        x=float(level),
        y=kept[role].to_numpy(float),
        index=kept.index,
        days=_days(kept),
        censored=tuple(int(row) for row, yes in zip(without, is_censored, strict=True) if yes),
        missing=tuple(int(row) for row, yes in zip(without, is_censored, strict=True) if not yes),
    )


def _days(part: pd.DataFrame) -> np.ndarray | None:
    import pandas as pd

    if not is_recorded(part, "day"):
        return None
    codes, names = pd.factorize(part["day"], sort=False)
    return codes if len(names) >= FEWEST_DAYS else None


def is_recorded(frame: pd.DataFrame, role: str) -> bool:
    """Whether the table has the column and a label in each of its cells."""
    return role in frame and len(frame) > 0 and bool((frame[role].notna() & frame[role].ne("")).all())


def rows_of(job: StudyInput, index: pd.Index) -> tuple[Rows, ...]:
    """The file rows behind a figure; many interleaved ones in words, where ranges would fill pages."""
    if not len(index):
        return ()
    exact = job.table.rows(index)
    if len(exact.ranges) <= LONGEST_RANGES:
        return (exact,)
    return (Rows(file=exact.file, ranges=f"{index.min()}-{index.max()}, {len(index)} of them"),)
