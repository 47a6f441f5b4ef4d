"""From the table to numbers by level: results with their laboratories, and what is no number."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from validate.studies.collaborative_trial.settings import BINARY, SPLIT, CollaborativeTrialSettings
from validate.tables.table import Table

if TYPE_CHECKING:
    import pandas as pd

NO_RESULT = ("", "NA")


@dataclass(frozen=True)
class LevelData:
    """The results at one level. `run` is None without runs; `sample` names the sample of a split level."""

    level: str
    values: np.ndarray
    laboratories: np.ndarray
    run: np.ndarray | None
    sample: np.ndarray | None
    totals: np.ndarray | None
    rows: pd.Index
    censored: pd.Index
    without_result: pd.Index
    at_floor: int

    @property
    def labels(self) -> tuple[str, ...]:
        """Laboratories in natural order."""
        return tuple(sorted(dict.fromkeys(self.laboratories.tolist()), key=natural))

    def without(self, laboratories: tuple[str, ...]) -> LevelData:
        """The level without some laboratories."""
        keep = ~np.isin(self.laboratories, laboratories)
        parts = {name: None if (x := getattr(self, name)) is None else x[keep] for name in ("run", "sample", "totals")}
        return replace(
            self, values=self.values[keep], laboratories=self.laboratories[keep], rows=self.rows[keep], **parts
        )

    def pairs(self) -> tuple[tuple[str, ...], np.ndarray, np.ndarray, tuple[str, str]]:
        """Laboratories with both samples of a split level, their results, and the names of the samples."""
        names = tuple(sorted(dict.fromkeys(self.sample.tolist()), key=natural))
        if len(names) != 2:
            raise ValueError(f"a split level has two samples, found {len(names)}: {', '.join(names) or 'none'}")
        found = {(lab, sample): x for lab, sample, x in zip(self.laboratories, self.sample, self.values, strict=True)}
        labels = tuple(lab for lab in self.labels if all((lab, sample) in found for sample in names))
        first, second = (np.asarray([found[lab, sample] for lab in labels], dtype=float) for sample in names)
        return labels, first, second, (names[0], names[1])

    def counts(self) -> tuple[tuple[str, ...], np.ndarray, np.ndarray]:
        """Laboratories with their detections and numbers of results."""
        labels = self.labels
        sums = [[float(x[self.laboratories == lab].sum()) for lab in labels] for x in (self.values, self.totals)]
        return labels, np.asarray(sums[0]), np.asarray(sums[1])


def by_level(table: Table, settings: CollaborativeTrialSettings, floor: float | None) -> tuple[LevelData, ...]:
    """The results of each declared level, in the order of the protocol."""
    levels = table.frame["level"].to_numpy(dtype=object)
    return tuple(_at(level, table, levels == level, settings, floor) for level in settings.design.levels)


def _at(
    level: str, table: Table, chosen: np.ndarray, settings: CollaborativeTrialSettings, floor: float | None
) -> LevelData:
    frame, kind = table.frame[chosen], settings.design.kind
    role = "positive" if kind == BINARY else "result"
    result = frame[role].to_numpy(dtype=float)
    number = np.isfinite(result)
    marks = table.marks[role][chosen][~number]
    empty = marks.isin(NO_RESULT).to_numpy(dtype=bool)
    found = frame[number]

    def texts(name: str) -> np.ndarray:
        return found[name].astype(str).to_numpy(dtype=object)

    values = result[number]
    totals = None
    if kind == BINARY:
        totals = found["total"].to_numpy(dtype=float) if "total" in found else np.ones(values.size)
    return LevelData(
        level=level,
        values=values,
        laboratories=texts("laboratory"),
        run=texts("run") if settings.design.runs is not None else None,
        sample=texts("sample") if kind == SPLIT else None,
        totals=totals,
        rows=found.index,
        censored=marks.index[~empty],
        without_result=marks.index[empty],
        at_floor=0 if floor is None or kind == BINARY else int(np.count_nonzero(values <= floor)),
    )


def natural(label: str) -> tuple[int, float, str]:
    """Sorting key: numbers by size, then texts: 1, 2, 10, A, B."""
    number = label.replace(".", "", 1)
    return (0, float(label), label) if number.isascii() and number.isdigit() else (1, 0.0, label)
