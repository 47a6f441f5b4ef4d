"""The record: runs in order of time with their readings, and where lots or calibrations change."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from validate.studies.contract import ReferenceValue, StudyInput
from validate.studies.control_chart.settings import CHANGES, ControlChartSettings
from validate.vocabulary.finding import Rows

if TYPE_CHECKING:
    import pandas as pd

NO_READING = ("", "NA")


@dataclass(frozen=True)
class Change:
    """Before run `at` (from 0) the `role` changed from one label to another."""

    at: int
    role: str
    old: str
    new: str


@dataclass(frozen=True)
class Record:
    """Readings as numbers, with the position of their run; one label of each condition for each run.

    `base` is True for the runs of the base period. `censored` and `missing` are file rows
    that are left out.
    """

    job: StudyInput
    names: tuple[str, ...]
    values: np.ndarray
    run_of: np.ndarray
    index: pd.Index
    dates: tuple[str, ...]
    conditions: dict[str, tuple[str, ...]]
    base: np.ndarray
    censored: tuple[int, ...]
    missing: tuple[int, ...]

    @property
    def settings(self) -> ControlChartSettings:
        return self.job.settings  # type: ignore[return-value]

    @property
    def unit(self) -> str:
        return self.job.method.unit

    @property
    def n(self) -> int:
        """Runs."""
        return len(self.names)

    @property
    def sizes(self) -> np.ndarray:
        return np.bincount(self.run_of, minlength=self.n)

    @property
    def means(self) -> np.ndarray:
        return np.bincount(self.run_of, self.values, minlength=self.n) / self.sizes

    @property
    def replicated(self) -> bool:
        return len(self.values) > self.n

    @property
    def rows(self) -> tuple[Rows, ...]:
        return (self.job.table.rows(self.index),)  # type: ignore[union-attr]

    @property
    def reference(self) -> ReferenceValue | None:
        """The certified value, where the limits or the bias rest on one."""
        name = self.settings.limits.material
        return None if name is None else self.job.materials.get(name)

    def labels(self, role: str) -> tuple[str, ...]:
        """One label for each run; empty when the column is not there or nowhere filled."""
        found = self.conditions.get(role, ())
        return found if any(found) else ()

    def changes(self) -> tuple[Change, ...]:
        """Every change of lot, calibration or instrument between runs that both name one."""
        found = []
        for role in CHANGES:
            last = ""
            for at, label in enumerate(self.labels(role)):
                if label and last and label != last:
                    found.append(Change(at, role, last, label))
                last = label or last
        return tuple(sorted(found, key=lambda change: (change.at, CHANGES.index(change.role))))


def record_of(job: StudyInput) -> Record:
    """The runs in order of their dates (those of one day as the table has them), or of the table without dates."""
    frame, marks = job.table.frame, job.table.marks  # type: ignore[union-attr]
    numbers = frame["value"].notna().to_numpy()
    mark = marks["value"].to_numpy(dtype=object)
    empty = np.array([text in NO_READING for text in mark]) & ~numbers
    used = frame[numbers]
    labels = used["run"].to_numpy(dtype=object)
    first = {name: i for i, name in reversed(list(enumerate(labels)))}
    names = list(dict.fromkeys(labels))
    dates = used["date"].to_numpy(dtype=object) if "date" in used.columns else np.full(len(used), "", dtype=object)
    names.sort(key=lambda name: str(dates[first[name]]))
    place = {name: i for i, name in enumerate(names)}
    run_of = np.array([place[name] for name in labels], dtype=np.intp)
    roles = [role for role in (*CHANGES, "analyst") if role in used.columns]
    columns = {role: used[role].to_numpy(dtype=object) for role in roles}
    conditions = {role: tuple(str(column[first[name]]) for name in names) for role, column in columns.items()}
    days = tuple(str(dates[first[name]]) for name in names)
    return Record(
        job=job,
        names=tuple(str(name) for name in names),
        values=used["value"].to_numpy(dtype=float),
        run_of=run_of,
        index=used.index,
        dates=days,
        conditions=conditions,
        base=_base(job.settings, days),  # type: ignore[arg-type]
        censored=tuple(int(row) for row in frame.index[~numbers & ~empty]),
        missing=tuple(int(row) for row in frame.index[empty]),
    )


def _base(settings: ControlChartSettings, days: tuple[str, ...]) -> np.ndarray:
    base = settings.limits.base
    if base is None:
        return np.zeros(len(days), dtype=bool)
    if base.runs is not None:
        return np.arange(len(days)) < base.runs
    return np.array([bool(day) and day <= str(base.until) for day in days], dtype=bool)
