"""The cells of a column as values of its type: floats, canonical levels, checked dates, labels."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from validate.protocol.fields import LARGEST_NUMBER, SMALLEST_NUMBER
from validate.tables.cells import Read, is_formula_like, number_pattern, scaled
from validate.tables.columns import FileColumn
from validate.tables.faults import Fault

if TYPE_CHECKING:
    import numpy as np

MOST_FAULTS = 10_000
"""A column with more wrong cells than this is not looked at further."""
_MOST_GROUPS = 5_000


@dataclass
class TypedColumn:
    """Values (a float array for numbers, else texts), marks, and what is wrong. Rows are counted from 0."""

    values: Any
    marks: dict[int, str] = field(default_factory=dict)
    """Row → mark, where the mark is not empty."""
    faults: dict[int, Fault] = field(default_factory=dict)
    """Row → what is wrong with its cell."""
    others: list[Fault] = field(default_factory=list)
    """What is to be said of the column as a whole."""


def type_column(column: FileColumn, cells: Sequence[str], rows: Sequence[int]) -> TypedColumn:
    """Every cell of a column by its type; `rows` are the file rows for messages."""
    if column.column.type == "number":
        return _type_numbers(column, cells, rows)
    if column.column.type == "label":
        typed = TypedColumn(cells)
        unique = list(dict.fromkeys(cells))
        if column.column.required and "" in unique:
            _look(column, cells, rows, (i for i, cell in enumerate(cells) if not cell), typed)
        typed.others += _label_notices(column, cells, rows, unique)
        return typed
    typed = TypedColumn([""] * len(cells))
    _look(column, cells, rows, range(len(cells)), typed)
    return typed


def _type_numbers(column: FileColumn, cells: Sequence[str], rows: Sequence[int]) -> TypedColumn:
    import numpy as np

    match = number_pattern(column.decimal).fullmatch
    values = np.full(len(cells), math.nan)
    odd = [i for i, cell in enumerate(cells) if not match(cell)]
    plain = np.setdiff1d(np.arange(len(cells)), odd, assume_unique=True) if odd else slice(None)
    texts = [cells[i] for i in plain] if odd else cells
    if column.decimal == ",":
        texts = [text.replace(",", ".") for text in texts]
    values[plain] = _floats(texts, column.factor)
    impossible = np.flatnonzero(_impossible(values, column.column.minimum)).tolist()
    values[impossible] = math.nan
    typed = TypedColumn(values)
    _look(column, cells, rows, sorted([*odd, *impossible]), typed)
    return typed


def _look(
    column: FileColumn, cells: Sequence[str], rows: Sequence[int], suspects: Iterable[int], typed: TypedColumn
) -> None:
    """Read the cells of `suspects` one by one into `typed`."""
    memo: dict[str, Read] = {}
    for i in suspects:
        cell = cells[i]
        read = memo.get(cell) or memo.setdefault(cell, column.read(cell))
        if read.code:
            typed.faults[i] = column.fault(read, rows[i], cell)
            if len(typed.faults) >= MOST_FAULTS:
                typed.others.append(Fault("column-given-up", rows[i], column.position + 1, cell))
                return
        elif read.value is not None:
            typed.values[i] = read.value
        elif read.mark:
            typed.marks[i] = read.mark


def _floats(texts: Sequence[str], factor: float) -> np.ndarray:
    import numpy as np

    numbers = map(float, texts) if factor == 1 else (scaled(text, factor) for text in texts)
    return np.fromiter(numbers, float, len(texts))


def _impossible(values: np.ndarray, minimum: float | None) -> np.ndarray:
    import numpy as np

    sizes = np.abs(values)
    impossible = (sizes > LARGEST_NUMBER) | ((sizes > 0) & (sizes < SMALLEST_NUMBER))
    return impossible if minimum is None else impossible | (values < minimum)


def _without_case_and_form(label: str) -> str:
    """A label without spaces and capitals, and é in one sign or two as the same (Unicode normal form KC)."""
    return "".join(unicodedata.normalize("NFKC", label).casefold().split())


def _label_notices(column: FileColumn, cells: Sequence[str], rows: Sequence[int], unique: Sequence[str]) -> list[Fault]:
    """Texts that a spreadsheet takes for a formula, and labels alike but for capitals, spaces or form of signs."""
    position = column.position + 1
    formulas = {cell for cell in unique if is_formula_like(cell)}
    notices = []
    if formulas:
        numbered = zip(rows, cells, strict=True)
        notices = [Fault("label-formula", row, position, cell) for row, cell in numbered if cell in formulas]
    if len(unique) > _MOST_GROUPS:
        return notices
    spellings: dict[str, str] = {}
    first = {cell: spellings.setdefault(_without_case_and_form(cell), cell) for cell in unique}
    varied = {cell: other for cell, other in first.items() if other != cell}
    if varied:
        first_rows = dict(zip(reversed(cells), reversed(rows), strict=True))
        notices += [Fault("label-spelling", first_rows[c], position, c, {"other": o}) for c, o in varied.items()]
    return notices
