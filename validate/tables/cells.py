"""One cell → a value, a mark, or the reason why it is neither.

Marks are results that are no number: `<2` and `>50` (in the column's unit), `<LOD`,
`<LOQ`, `n.d.` (not detected), `NA` (no result), and the empty cell. They are never zero.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import NamedTuple

from validate.protocol.fields import LARGEST_NUMBER, SMALLEST_NUMBER, is_of_possible_size, level_text

LONGEST_NUMBER = 100
_NUMBERS = {
    ".": re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII),
    ",": re.compile(r"[+-]?(?:\d+(?:,\d*)?|,\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII),
}
_BEYOND = re.compile(r"([<>])\s*(.+)")
_LIMITS = {"lod": "LOD", "loq": "LOQ"}
_NOT_DETECTED = {"n.d.", "n.d", "nd", "not detected"}
_NO_RESULT = {"na", "n/a", "n.a.", "n.a"}

_MONTH = (
    r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|mär|mrz|mai|okt|dez|ene|abr|ago|dic|fev|fév|set|out|avr|août|déc|gen|mag|giu|lug|ott)"
    r"[^\W\d]{0,6}\.?"
)
_DATE = (
    r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}(?:[T ].*)?"
    r"|\d{1,2}[-/.]\d{1,2}[-/.](?:\d{4}|\d{2})?(?:[T ].*)?"
    r"|\d{1,2}/\d{1,2}"
    rf"|\d{{1,2}}[-/. ]{{0,2}}{_MONTH}(?:[-/. ]{{1,2}}\d{{2,4}})?"
    rf"|{_MONTH}[-/. ]{{0,2}}\d{{1,4}}(?:,? \d{{4}})?"
    r"|\d{1,2}:\d{2}(?::\d{2})?"
)
_PLAIN = r"[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?"
_DIAGNOSES = tuple(
    (code, re.compile(pattern, re.IGNORECASE | re.DOTALL))
    for code, pattern in (
        ("cell-spreadsheet-error", r"#(?:n/a|div/0!|value!|ref!|name\?|num!|null!|#+)"),
        ("cell-boolean", r"true|false"),
        ("cell-not-finite", r"[+-]?\s*(?:inf|infinity|nan|∞)|-?1\.#.*"),
        ("cell-formula", r"[=@].*|[+-]\s*[a-z(].*"),
        ("cell-date", _DATE),
        ("cell-percent", rf"{_PLAIN}\s*%"),
        ("cell-minus", r"[−–—]\s*[\d.,]+"),
        ("cell-thousands", r"[+-]?\d{1,3}(?:([,.'’\s])\d{3})(?:\1\d{3})*[.,]\d+|[+-]?\d{1,3}(?:['’\s]\d{3})+"),
        ("cell-grouped", r"[+-]?[1-9]\d{0,2}(?:[.,]\d{3})+"),
        ("cell-other-decimal", r"[+-]?\d*[.,]\d+(?:e[+-]?\d+)?"),
        ("cell-letter-in-number", r"(?=.*\d)(?=.*[oil])[+-]?[\doil]*[.,]?[\doil]+"),
        ("cell-unit", rf"{_PLAIN}\s*[^\W\d_°].*|{_PLAIN}\s*°.*"),
        ("cell-several-numbers", rf"{_PLAIN}(?:\s*[;/|+±\s]\s*{_PLAIN})+"),
    )
)
_SIGNS = {
    ".": {"sign": "comma", "other": ",", "one": "1.5"},
    ",": {"sign": "point", "other": ".", "one": "1,5"},
}


class Read(NamedTuple):
    """What a cell says: `value` (None when there is none), `mark`, or the `code` of what is wrong."""

    value: float | str | None = None
    mark: str = ""
    code: str = ""
    values: Mapping[str, object] = {}


def number_pattern(decimal: str) -> re.Pattern[str]:
    """The form of a number that is read without a second look."""
    return _NUMBERS[decimal]


def scaled(text: str, factor: float) -> float:
    """The decimal number `text` times `factor`, rounded once (0.1 × 0.001 is 0.0001)."""
    if factor == 1:
        return float(text)
    return float(Decimal(text) * Decimal(repr(factor)))


def read_number_cell(cell: str, *, decimal: str, factor: float, minimum: float | None, censored: bool) -> Read:
    """A number in the target unit; the empty cell and other marks where `censored` allows them."""
    if number_pattern(decimal).fullmatch(cell):
        value = scaled(cell.replace(",", "."), factor)
        if not math.isfinite(value):
            return Read(code="cell-not-finite")
        if not is_of_possible_size(value):
            return Read(code="cell-size", values={"least": f"{SMALLEST_NUMBER:g}", "most": f"{LARGEST_NUMBER:g}"})
        if minimum is not None and value < minimum:
            return Read(code="cell-below-minimum", values={"minimum": f"{minimum:g}"})
        return Read(value)
    mark = read_mark(cell, decimal=decimal, factor=factor)
    if mark is None:
        return Read(code=why_no_number(cell), values=_SIGNS[decimal])
    if not censored:
        return Read(code="cell-censored" if mark else "cell-empty")
    return Read(mark=mark)


def read_mark(cell: str, *, decimal: str, factor: float) -> str | None:
    """The mark in its one spelling (`< 0,5` is `<0.5`), numbers in the target unit; None when it is none."""
    folded = cell.casefold()
    if not cell:
        return ""
    if folded in _NOT_DETECTED:
        return "n.d."
    if folded in _NO_RESULT:
        return "NA"
    beyond = _BEYOND.fullmatch(cell)
    if beyond is None or len(cell) > LONGEST_NUMBER:
        return None
    sign, limit = beyond.groups()
    if limit.casefold() in _LIMITS:
        return sign + _LIMITS[limit.casefold()]
    if not number_pattern(decimal).fullmatch(limit):
        return None
    value = scaled(limit.replace(",", "."), factor)
    if not is_of_possible_size(value):
        return None
    return sign + (limit.replace(",", ".") if factor == 1 else level_text(repr(value)))


def why_no_number(cell: str) -> str:
    """The code of the problem with a cell that should be a number."""
    if len(cell) <= LONGEST_NUMBER:
        for code, pattern in _DIAGNOSES:
            if pattern.fullmatch(cell):
                return code
    return "cell-no-number"


def read_level_cell(cell: str, *, decimal: str, factor: float, minimum: float | None) -> Read:
    """A level as canonical decimal text in the target unit."""
    read = read_number_cell(cell, decimal=decimal, factor=factor, minimum=minimum, censored=False)
    if read.code:
        return read
    text = cell.replace(",", ".")
    return Read(level_text(text if factor == 1 else repr(read.value)))


_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_DAY_AND_MONTH = re.compile(r"(\d{1,2})[-/. ]{1,2}(\d{1,2})[-/. ]{1,2}(\d{4}|\d{2})", re.ASCII)
_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def read_date_cell(cell: str) -> Read:
    """An ISO date as text; any other form is told, with what it could mean."""
    if not cell:
        return Read(code="cell-empty")
    if _ISO_DATE.fullmatch(cell):
        try:
            return Read(dt.date.fromisoformat(cell).isoformat())
        except ValueError:
            return Read(code="cell-date-impossible")
    if re.fullmatch(r"\d{5}(?:\.\d+)?", cell, re.ASCII):
        return Read(code="cell-date-serial")
    written = _DAY_AND_MONTH.fullmatch(cell)
    if written:
        first, second = int(written[1]), int(written[2])
        if 1 <= first <= 12 and 1 <= second <= 12 and first != second:
            one, other = (f"{d} {_MONTHS[m - 1]}" for d, m in ((first, second), (second, first)))
            return Read(code="cell-date-ambiguous", values={"one": one, "other": other})
    return Read(code="cell-date-form")


_FORMULA_STARTS = frozenset("=@+-")
_FORMULA_LIKE = re.compile(r"[=@].*|[+-]\s*[A-Za-z(].*", re.DOTALL)


def is_formula_like(cell: str) -> bool:
    """Whether a spreadsheet would take the text for a formula."""
    return cell[:1] in _FORMULA_STARTS and _FORMULA_LIKE.fullmatch(cell) is not None
