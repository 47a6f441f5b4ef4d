"""The results of one level, with what they are held against and how they are grouped."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from validate.stats.descriptive import mean_of_group_means, summary
from validate.studies.contract import StudyInput
from validate.studies.recovery.grouping import Grouping, group_results
from validate.studies.recovery.native import Native, Unspiked, is_censored, native_content, unspiked_results
from validate.studies.recovery.settings import SPIKES, RecoverySettings
from validate.vocabulary.finding import Rows

if TYPE_CHECKING:
    import pandas as pd

LONGEST_RANGES = 2000


@dataclass(frozen=True)
class Reference:
    """What the samples of a level should hold beyond their native content."""

    value: float
    u: float
    words: str


@dataclass(frozen=True)
class Level:
    """Numerical results at one declared level and everything that their evaluation needs."""

    level: str
    index: pd.Index
    found: np.ndarray
    rows: tuple[Rows, ...]
    days: Grouping | None
    """Groups whose means carry the interval of the mean: results of one day are not independent."""
    runs: Grouping | None
    """Groups between which intermediate precision is taken."""
    reference: Reference | None
    native: Native | None
    paired_native: np.ndarray | None
    """A native result for each result, of the same row or the same day."""
    censored: tuple[int, ...]
    missing: tuple[int, ...]

    @property
    def n(self) -> int:
        return len(self.found)

    @cached_property
    def sd(self) -> float | None:
        """Standard deviation of all results, whatever their days; None for fewer than two."""
        return summary(self.found).sd if self.n > 1 else None

    @property
    def mean_groups(self) -> np.ndarray | None:
        """Day of each result, or None where fewer than two days tell nothing of the spread between days."""
        return self.days.codes if self.days is not None and self.days.count > 1 else None

    @property
    def df_of_mean(self) -> int:
        return self.n - 1 if self.mean_groups is None else self.days.count - 1

    @property
    def group_count(self) -> int | None:
        """Days (or what stands for them) at this level: runs that share a day are not counted twice."""
        return None if self.days is None else self.days.count

    @cached_property
    def native_value(self) -> float:
        if self.paired_native is not None:
            return _mean_by(self.paired_native, self.days)
        return self.native.value if self.native else 0.0

    @cached_property
    def mean_found(self) -> float:
        """Mean of the means of days (of the single results where no day is recorded)."""
        return _mean_by(self.found, self.days)

    def without(self, left_out: np.ndarray) -> Level:
        """The same level less the results at the positions `left_out`."""
        kept = np.ones(self.n, dtype=bool)
        kept[left_out] = False
        return replace(
            self,
            index=self.index[kept],
            found=self.found[kept],
            days=self.days and self.days.only(kept),
            runs=self.runs and self.runs.only(kept),
            paired_native=None if self.paired_native is None else self.paired_native[kept],
        )

    @property
    def words_for_mean(self) -> str:
        if self.days is None or self.days.count == 1:
            return f"mean of {self.n} results" if self.n > 1 else "the one result"
        return f"mean of the means of {self.days.count} {self.days.many} ({self.n} results)"

    @property
    def why_empty(self) -> str:
        if self.censored:
            return f"all {len(self.censored)} results at this level are censored"
        return "no result at this level"

    @property
    def content(self) -> float | None:
        """Reference content of the sample, native content included."""
        return None if self.reference is None else self.reference.value + self.native_value

    @property
    def single_recoveries(self) -> np.ndarray | None:
        if self.reference is None:
            return None
        native = self.native_value if self.paired_native is None else self.paired_native
        return 100 * (self.found - native) / self.reference.value


def levels_of(job: StudyInput) -> tuple[Level, ...]:
    """One `Level` for each declared level, in the order of the protocol, empty ones included."""
    settings: RecoverySettings = job.settings  # type: ignore[assignment]
    frame, marks = job.table.frame, job.table.marks
    parts = dict(list(frame.groupby("added", sort=False)))
    from_rows = settings.native is not None and settings.native.from_ == "rows"
    unspiked = unspiked_results(frame, marks) if from_rows else None
    return tuple(_level(job, level, parts.get(level), marks, unspiked) for level in settings.design.levels)


def _level(
    job: StudyInput, level: str, part: pd.DataFrame | None, marks: pd.DataFrame, unspiked: Unspiked | None
) -> Level:
    settings: RecoverySettings = job.settings  # type: ignore[assignment]
    part = job.table.frame.iloc[:0] if part is None else part
    roles = ["found", "native"] if settings.native and settings.native.from_ == "column" else ["found"]
    numeric = part[roles].notna().all(axis="columns")
    without, kept = part.index[~numeric], part[numeric]
    censored = is_censored(part.loc[without, roles], marks.loc[without, roles])
    days, runs = group_results(kept, settings)
    native, paired = native_content(settings, kept, unspiked, days)
    return Level(
        level=level,
        index=kept.index,
        found=kept["found"].to_numpy(float),
        rows=(_rows(job, level, kept.index),) if len(kept) else (),
        days=days,
        runs=runs,
        reference=reference_of(job, level),
        native=native,
        paired_native=paired,
        censored=tuple(int(row) for row in without[censored]),
        missing=tuple(int(row) for row in without[~censored]),
    )


def _rows(job: StudyInput, level: str, index: pd.Index) -> Rows:
    """The rows of a level; interleaved ones in words, where ranges would fill pages."""
    exact = job.table.rows(index)
    if len(exact.ranges) <= LONGEST_RANGES:
        return exact
    return Rows(file=exact.file, ranges=f"{index.min()}-{index.max()}, the {len(index)} of them at level {level}")


def reference_of(job: StudyInput, level: str) -> Reference | None:
    """The added, certified or assigned content at `level`; None for a natural sample without one."""
    settings: RecoverySettings = job.settings  # type: ignore[assignment]
    material = job.materials.get(settings.reference.get(level, ""))
    if material is not None:
        return Reference(material.value, material.u or 0.0, f"value of {material.material}")
    if settings.contamination in SPIKES:
        added = float(level)
        return Reference(added, added * settings.relative_u_of_added_percent / 100, "added content")
    return None


def _mean_by(values: np.ndarray, groups: Grouping | None) -> float:
    if groups is None or groups.count < 2:
        return float(np.mean(values))
    return mean_of_group_means(values, groups.codes)[0]
