"""A typed table: what a study receives after a file was read, checked, amended and reduced."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from validate.vocabulary.finding import Rows

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True)
class Column:
    """A column that a study asks for.

    `role` is the study's name for it and the column name in the file unless the protocol
    maps another. `number` columns become floats in the method's unit (or as declared in
    `unit`); `label` stays text; `level` becomes canonical decimal text (`5`, `0.5`);
    `date` becomes ISO text (`2031-03-09`) after it was checked; `time` likewise
    (`2031-03-09T08:22:00`, with `+01:00` where an offset is written, or a date alone).
    """

    role: str
    title: str
    """In plain words, for messages, bench sheets and the README of the study."""
    type: Literal["number", "label", "level", "date", "time"]
    required: bool = True
    unit: str = ""
    """`method` for the method's unit, another unit as text, or empty for labels."""
    minimum: float | None = None
    """Smallest possible value: a mass cannot be negative."""
    censored: bool = False
    """Whether `<2`, `n.d.` or an empty cell may stand here (kept apart, never zero); of levels and times the last."""
    identifies: bool = False
    """Together such columns name a row; two rows with equal ones are duplicates."""


@dataclass(frozen=True)
class Table:
    """Typed rows of one file.

    `frame` is indexed by the row of the file (the header is row 1) and holds one column
    per role that the file has. Number columns are float64; a cell without a number is NaN
    there and its text (`<2`, `>50`, `<LOD`, `<LOQ`, `n.d.`, `NA`, or empty; each in one
    spelling, limits in the unit of the column) stands in `marks`, a frame of the same
    shape with empty text elsewhere.
    """

    file: str
    frame: pd.DataFrame
    marks: pd.DataFrame

    def rows(self, index: pd.Index | None = None) -> Rows:
        """The rows in `index` (all when None) as ranges for a finding."""
        return Rows(file=self.file, ranges=row_ranges(self.frame.index if index is None else index))


def row_ranges(rows: Iterable[int]) -> str:
    """Rows in ascending order as ranges.

    >>> row_ranges([7, 2, 3, 4])
    '2-4, 7'
    """
    import numpy as np

    numbers = np.unique(np.asarray(rows if hasattr(rows, "__array__") else list(rows), dtype=np.int64))
    is_last = np.diff(numbers, append=np.iinfo(np.int64).max) != 1
    is_first = np.roll(is_last, 1)
    pairs = zip(numbers[is_first].tolist(), numbers[is_last].tolist(), strict=True)
    return ", ".join(str(first) if first == last else f"{first}-{last}" for first, last in pairs)
