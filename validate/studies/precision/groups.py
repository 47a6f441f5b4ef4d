"""From the table to numbers by level: results with their factor labels, and what is no number."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from validate.studies.contract import Method
from validate.studies.precision.settings import Design, PrecisionSettings
from validate.studies.precision.words import counted
from validate.tables.table import Table

if TYPE_CHECKING:
    import pandas as pd

NO_RESULT = ("", "NA")
"""Marks of a cell that holds no result at all; every other mark is a censored result."""
_NONE = np.empty(0, dtype=np.intp)


@dataclass(frozen=True)
class LevelData:
    """The results at one level (or of the whole study when `level` is None).

    `codes[column]` numbers the labels of a factor, `labels[column]` lists them in natural
    order. `rows` are the file rows of the results that are numbers.
    """

    level: str | None
    values: np.ndarray
    rows: pd.Index
    codes: Mapping[str, np.ndarray]
    labels: Mapping[str, tuple[str, ...]]
    censored: pd.Index
    without_result: pd.Index
    at_floor: int

    @property
    def n(self) -> int:
        return self.values.size

    def chosen(self, mask: np.ndarray) -> LevelData:
        """Only the results in `mask`; labels without a result left are dropped."""
        kept = {column: np.unique(codes[mask], return_inverse=True) for column, codes in self.codes.items()}
        return replace(
            self,
            values=self.values[mask],
            rows=self.rows[mask],
            codes={column: codes for column, (_, codes) in kept.items()},
            labels={column: tuple(self.labels[column][i] for i in found) for column, (found, _) in kept.items()},
        )

    def count(self, column: str) -> int:
        """Number of labels of a factor among the results."""
        return len(self.labels[column])


def by_level(table: Table, settings: PrecisionSettings, method: Method) -> tuple[LevelData, ...]:
    """The results of each declared level in the order of the protocol; one entry when none is declared."""
    import pandas as pd

    levels = settings.design.levels
    if not levels:
        return (_level_data(None, table, np.arange(len(table.frame)), settings, method),)
    codes, found = pd.factorize(table.frame["level"].to_numpy(dtype=object))
    number = {level: code for code, level in enumerate(found)}
    positions = (np.flatnonzero(codes == number[level]) if level in number else _NONE for level in levels)
    return tuple(
        _level_data(level, table, chosen, settings, method) for level, chosen in zip(levels, positions, strict=True)
    )


def _level_data(
    level: str | None, table: Table, chosen: np.ndarray, settings: PrecisionSettings, method: Method
) -> LevelData:
    frame = table.frame if chosen.size == len(table.frame) else table.frame.iloc[chosen]
    result = frame["result"].to_numpy(dtype=float)
    is_number = np.isfinite(result)
    marks = table.marks["result"].iloc[chosen[~is_number]]
    empty = marks.isin(NO_RESULT).to_numpy(dtype=bool)
    values = result[is_number]
    coded = {f.column: _coded(frame[f.column], is_number) for f in settings.conditions if f.column in frame}
    return LevelData(
        level=level,
        values=values,
        rows=frame.index[is_number],
        codes={column: codes for column, (codes, _) in coded.items()},
        labels={column: labels for column, (_, labels) in coded.items()},
        censored=marks.index[~empty],
        without_result=marks.index[empty],
        at_floor=0 if method.floor is None else int(np.count_nonzero(values <= method.floor)),
    )


def _coded(column: pd.Series, is_number: np.ndarray) -> tuple[np.ndarray, tuple[str, ...]]:
    import pandas as pd

    texts = column.where(column.notna(), "").to_numpy(dtype=object)[is_number]
    codes, found = pd.factorize(texts)
    order = sorted(range(len(found)), key=lambda i: natural(str(found[i])))
    rank = np.empty(len(found), dtype=np.intp)
    rank[order] = np.arange(len(found))
    return rank[codes], tuple(str(found[i]) for i in order)


def natural(label: str) -> tuple[int, float, str]:
    """Sorting key: numbers by size, then texts: 1, 2, 10, A, B."""
    number = label.replace(".", "", 1)
    return (0, float(label), label) if number.isascii() and number.isdigit() else (1, 0.0, label)


def cell_codes(data: LevelData, columns: tuple[str, ...]) -> np.ndarray:
    """Number of the combination of labels of `columns`, for each result, without gaps."""
    flat = data.codes[columns[0]]
    for column in columns[1:]:
        flat = flat * data.count(column) + data.codes[column]
    return np.unique(flat, return_inverse=True)[1]


def why_unusable(data: LevelData, design: Design) -> str:
    """Why no precision can be computed at a level, or empty text."""
    if data.n == 0:
        return "no results"
    for factor in design.factors if design.kind == "crossed" else (design.outer,):
        if data.count(factor.column) < 2:
            return f"{counted(data.count(factor.column), factor.called)}, at least 2 are needed"
    cells = int(cell_codes(data, tuple(factor.column for factor in design.factors)).max()) + 1
    if design.kind == "nested" and cells <= data.count(design.outer.column):
        return f"every {design.outer.called} holds a single {design.inner[0].called}"
    if data.n <= cells and design.kind != "crossed":
        return f"{data.n} results in {cells} innermost groups: none has a second result"
    return ""
