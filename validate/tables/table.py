"""A typed table: what a study receives after a file was read, checked, amended and reduced."""

from __future__ import annotations

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
    `date` becomes ISO text (`2031-03-09`) after it was checked.
    """

    role: str
    title: str
    """In plain words, for messages, bench sheets and the README of the study."""
    type: Literal["number", "label", "level", "date"]
    required: bool = True
    unit: str = ""
    """`method` for the method's unit, another unit as text, or empty for labels."""
    minimum: float | None = None
    """Smallest possible value: a mass cannot be negative."""
    censored: bool = False
    """Whether `<2`, `n.d.` or an empty cell may stand here (kept apart, never zero)."""
    identifies: bool = False
    """Together such columns name a row; two rows with equal ones are duplicates."""


@dataclass(frozen=True)
class Table:
    """Typed rows of one file.

    `frame` is indexed by the row of the file (the header is row 1) and holds one column
    per role that the file has. Number columns are float64; a cell without a number is NaN
    there and its text (`<2`, `n.d.`, `NA`, or empty) stands in `marks`, a frame of the
    same shape with empty text elsewhere.
    """

    file: str
    frame: pd.DataFrame
    marks: pd.DataFrame

    def rows(self, index: pd.Index | None = None) -> Rows:
        """The rows in `index` (all when None) as ranges for a finding."""
        return Rows(file=self.file, ranges=row_ranges(self.frame.index if index is None else index))


def row_ranges(rows: object) -> str:
    """`[2, 3, 4, 7]` as `2-4, 7`."""
    numbers = sorted(int(r) for r in rows)  # type: ignore[attr-defined]
    pieces: list[list[int]] = []
    for number in numbers:
        if pieces and number == pieces[-1][1] + 1:
            pieces[-1][1] = number
        else:
            pieces.append([number, number])
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in pieces)
