"""The table sorted into blanks, spiked samples and standards, and the slope that turns responses into contents."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from validate.stats.regression import Line, line
from validate.studies.contract import StudyInput
from validate.studies.detection.recorded import NO_NUMBER, is_recorded
from validate.studies.detection.settings import (
    AS_READ,
    BLANK,
    CONCENTRATION,
    OF_STANDARDS,
    SPIKES,
    STANDARDS,
    DetectionSettings,
)
from validate.tables.table import Table
from validate.vocabulary.finding import Rows

if TYPE_CHECKING:
    import pandas as pd

FEWEST_POINTS = 3


@dataclass(frozen=True)
class Group:
    """Samples of one level: numerical responses, and the rows of those without a number."""

    level: str
    index: pd.Index
    """Rows of the numerical responses, in the order of the file."""
    values: np.ndarray
    censored: tuple[int, ...]
    missing: tuple[int, ...]
    days: int | None
    """Days on which the numerical responses were measured; None where a day is not recorded."""
    said: tuple[bool, ...] | None
    """What the test itself said of each sample with a number or a mark; None where it said nothing."""
    rows: tuple[Rows, ...]

    @property
    def n(self) -> int:
        return len(self.values)

    @property
    def tried(self) -> int:
        """Samples of which it can be said whether they were detected."""
        return len(self.said) if self.said is not None else self.n + len(self.censored)

    @cached_property
    def sd(self) -> float | None:
        return float(np.std(self.values, ddof=1)) if self.n > 1 else None


@dataclass(frozen=True)
class Sensitivity:
    """Response per content: 1 for contents as read, or the slope of a line. `reason` says why there is none."""

    slope: float | None
    words: str
    as_read: bool = False
    reason: str | None = None

    @property
    def sign(self) -> float:
        """−1 where the response falls with the content."""
        return -1.0 if self.slope is not None and self.slope < 0 else 1.0


@dataclass(frozen=True)
class Standards:
    """Standards with their fitted lines; `pooled` takes all of them, `each` one calibration at a time."""

    n: int
    pooled: Line | None
    each: tuple[Line, ...]
    labels: tuple[str, ...]
    rows: tuple[Rows, ...]
    reason: str | None = None


@dataclass(frozen=True)
class Samples:
    """Everything that the approaches work on."""

    blanks: Group
    spikes: tuple[Group, ...]
    """One for each declared level, in ascending order, empty ones included."""
    standards: Standards
    sensitivity: Sensitivity
    unit: str
    """Unit of the responses."""
    table: Table = field(repr=False)

    @property
    def groups(self) -> tuple[Group, ...]:
        return (self.blanks, *self.spikes)


def samples_of(job: StudyInput) -> Samples:
    """Sort the table. Rows with a calibration label are standards, all others samples (or both: `rows: standards`)."""
    settings: DetectionSettings = job.settings  # type: ignore[assignment]
    table, frame = job.table, job.table.frame
    labels = frame["calibration"].fillna("") if "calibration" in frame else None
    is_standard = labels.ne("") if labels is not None else frame["level"].isna()
    are_samples = frame[~is_standard.to_numpy(bool)]
    if settings.rows == STANDARDS:
        labels = labels.where(labels.ne(""), "the calibration") if labels is not None else None
        is_standard = is_standard | True
    blanks = _group(table, settings, BLANK, are_samples)
    spikes = tuple(_group(table, settings, level, are_samples) for level in sorted(settings.design.levels, key=float))
    standards = _standards(table, settings, frame[is_standard.to_numpy(bool)], labels)
    return Samples(
        blanks=blanks,
        spikes=spikes,
        standards=standards,
        sensitivity=_sensitivity(settings, blanks, spikes, standards),
        unit=job.method.unit if settings.response == CONCENTRATION else settings.signal_unit,
        table=table,
    )


def _group(table: Table, settings: DetectionSettings, level: str, samples: pd.DataFrame) -> Group:
    part = samples[samples["level"] == level]
    numeric = part[settings.role].notna()
    marks = table.marks.loc[part.index, settings.role].str.strip().str.upper()
    nothing = ~numeric & marks.isin(NO_NUMBER)
    kept = part[numeric]
    tried = part[~nothing]
    return Group(
        level=level,
        index=kept.index,
        values=kept[settings.role].to_numpy(float),
        censored=tuple(int(row) for row in part.index[~numeric & ~nothing]),
        missing=tuple(int(row) for row in part.index[nothing]),
        days=kept["day"].nunique() if is_recorded(kept, "day") else None,
        said=tuple(tried["detected"].str.lower().eq("yes")) if is_recorded(part, "detected") else None,
        rows=(table.rows(part.index),) if len(part) else (),
    )


def _standards(table: Table, settings: DetectionSettings, part: pd.DataFrame, labels: pd.Series | None) -> Standards:
    part = part[part[settings.role].notna()]
    rows = (table.rows(part.index),) if len(part) else ()
    if part.empty:
        return Standards(0, None, (), (), (), "the table holds no standards")
    x, y = part["level"].to_numpy(float), part[settings.role].to_numpy(float)
    try:
        pooled = line(x, y)
    except ValueError as error:
        return Standards(len(part), None, (), (), rows, str(error))
    series = labels.loc[part.index] if labels is not None else part["level"].map(lambda _: "the calibration")
    each, names = [], []
    for name in dict.fromkeys(series):
        own = (series == name).to_numpy(bool)
        try:
            each.append(line(x[own], y[own]))
        except ValueError:
            continue
        names.append(str(name))
    return Standards(len(part), pooled, tuple(each), tuple(names), rows)


def _sensitivity(
    settings: DetectionSettings, blanks: Group, spikes: tuple[Group, ...], standards: Standards
) -> Sensitivity:
    choice = settings.sensitivity
    if choice is None:
        signals = OF_STANDARDS if standards.n else SPIKES
        choice = AS_READ if settings.response == CONCENTRATION else signals
    if choice == AS_READ:
        return Sensitivity(1.0, "contents as read, not corrected for recovery", as_read=True)
    if choice == OF_STANDARDS:
        return _slope(standards.pooled, "slope of the standards", standards.reason)
    groups = [group for group in (blanks, *spikes) if group.n]
    x = np.concatenate([np.full(group.n, float(group.level)) for group in groups]) if groups else np.array([])
    y = np.concatenate([group.values for group in groups]) if groups else np.array([])
    words = "slope over blanks and spiked samples"
    try:
        return _slope(line(x, y), words, None)
    except ValueError as error:
        return Sensitivity(None, words, reason=f"no {words}: {error}")


def _slope(fit: Line | None, words: str, reason: str | None) -> Sensitivity:
    if fit is None:
        return Sensitivity(None, words, reason=f"no {words}: {reason}")
    if fit.slope == 0 or (fit.slope_limits.low < 0 < fit.slope_limits.high):
        return Sensitivity(None, words, reason=f"the {words} cannot be told from 0")
    return Sensitivity(fit.slope, words)
