"""A file's cells together with what the study reads of them: the basis of typing, checks and treatments."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from validate.tables.cells import number_pattern
from validate.tables.columns import FileColumn
from validate.tables.faults import Fault
from validate.tables.records import Records
from validate.tables.typed import TypedColumn, type_column

if TYPE_CHECKING:
    import pandas as pd


@dataclass
class Sheet:
    """Cells as written and the study's columns among them. Rows are counted from 0 here; `rows` has file rows."""

    records: Records
    columns: Sequence[FileColumn]
    typed: dict[str, TypedColumn] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._cells: dict[int, list[str]] = {}
        self.by_position = {column.position: column for column in self.columns}

    @property
    def rows(self) -> list[int]:
        return self.records.rows

    @property
    def header(self) -> tuple[str, ...]:
        return self.records.header

    def cells(self, position: int) -> list[str]:
        """The cells of one column without surrounding spaces."""
        if position not in self._cells:
            self._cells[position] = self.records.column(position)
        return self._cells[position]

    def type_all(self) -> None:
        for column in self.columns:
            self.typed[column.role] = type_column(column, self.cells(column.position), self.rows)

    def position(self, name: str) -> int | None:
        """The column called `name` in the header, or that has this name in the study."""
        if name in self.header:
            return self.header.index(name)
        return next((column.position for column in self.columns if name in (column.role, column.name)), None)

    def faults(self) -> dict[tuple[int, str], Fault]:
        """What is wrong with single cells: (row from 0, role) → fault."""
        return {(i, role): fault for role, typed in self.typed.items() for i, fault in typed.faults.items()}

    def frames(self) -> tuple[pd.DataFrame, pd.DataFrame]:
        """Values and marks of all rows, indexed by file row; a faulty cell holds nothing."""
        import pandas as pd

        index = pd.Index(self.rows, name="row", dtype="int64")
        values = {role: _series(typed.values, index) for role, typed in self.typed.items()}
        unmarked = pd.Series([""] * len(index), index=index, dtype="str")
        marks = {role: _marks(typed.marks, index, unmarked) for role, typed in self.typed.items()}
        return pd.DataFrame(values, index=index, copy=False), pd.DataFrame(marks, index=index, copy=False)


def _series(values: object, index: pd.Index) -> pd.Series:
    import pandas as pd

    if isinstance(values, list):
        return pd.Series(values, index=index, dtype="str")
    return pd.Series(values, index=index)


def _marks(marks: Mapping[int, str], index: pd.Index, unmarked: pd.Series) -> pd.Series:
    if not marks:
        return unmarked
    import pandas as pd

    texts = [""] * len(index)
    for i, mark in marks.items():
        texts[i] = mark
    return pd.Series(texts, index=index, dtype="str")


def key_of(column: FileColumn | None) -> Callable[[str], object]:
    """How cells of a column are compared: numbers by their value, texts as written."""
    if column is None or not column.numeric:
        return str
    match = number_pattern(column.decimal).fullmatch

    def key(cell: str) -> object:
        return float(cell.replace(",", ".")) if match(cell) else cell

    return key
