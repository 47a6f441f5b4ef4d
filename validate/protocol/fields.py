"""Types of protocol values: text as written in the file → checked value.

Nothing is guessed: `NO`, `1:30` and `08` stay text unless a type asks for something else.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from decimal import Decimal, InvalidOperation
from typing import Annotated, Any

from pydantic import BeforeValidator, StringConstraints, WithJsonSchema

from validate.vocabulary.quantity import Quantity, check_unit, parse_quantity

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?")


def read_number(text: Any) -> float:
    """A finite decimal number; a decimal comma, a thousands sign or a unit is refused."""
    if not isinstance(text, str) or not _NUMBER.fullmatch(text.strip()):
        raise ValueError("a number with a decimal point is expected")
    value = float(text)
    if not math.isfinite(value):
        raise ValueError("a finite number is expected")
    return value


def read_count(text: Any) -> int:
    if not isinstance(text, str) or not re.fullmatch(r"\d{1,6}", text.strip()):
        raise ValueError("a whole number is expected")
    return int(text)


def level_text(text: Any) -> str:
    """The canonical decimal text of a level: `5`, `0.5`; `5.0` and `05` become `5`."""
    read_number(text)
    try:
        value = Decimal(text.strip())
    except InvalidOperation as error:
        raise ValueError("a number with a decimal point is expected") from error
    return format(value.normalize() + 0, "f")


def read_date(text: Any) -> dt.date:
    if not isinstance(text, str) or not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text.strip()):
        raise ValueError("a date such as 2031-03-09 is expected")
    return dt.date.fromisoformat(text.strip())


def read_unit(text: Any) -> str:
    if not isinstance(text, str):
        raise ValueError("a unit such as µg/kg is expected")
    check_unit(text.strip())
    return text.strip()


def read_quantity(text: Any) -> Quantity:
    if not isinstance(text, str):
        raise ValueError("a number followed by a unit is expected, for example '20 g'")
    return parse_quantity(text)


def read_relative_path(text: Any) -> str:
    """A file inside the protocol's folder, written with forward slashes."""
    parts = text.split("/") if isinstance(text, str) else []
    if not parts or any(p in ("", ".", "..") or "\\" in p or ":" in p or "\0" in p for p in parts):
        raise ValueError("a file inside the protocol's folder is expected, for example 'recovery.csv'")
    return text


def _schema(pattern: str | None = None, *, number: bool = False) -> WithJsonSchema:
    if number:
        return WithJsonSchema({"type": "number"})
    return WithJsonSchema({"type": "string", "pattern": pattern} if pattern else {"type": "string"})


Number = Annotated[float, BeforeValidator(read_number), _schema(number=True)]
Count = Annotated[int, BeforeValidator(read_count), WithJsonSchema({"type": "integer", "minimum": 0})]
LevelText = Annotated[str, BeforeValidator(level_text), _schema(number=True)]
Date = Annotated[dt.date, BeforeValidator(read_date), WithJsonSchema({"type": "string", "format": "date"})]
UnitText = Annotated[str, BeforeValidator(read_unit), _schema()]
QuantityText = Annotated[Any, BeforeValidator(read_quantity), _schema(r"^\s*[+-]?[\d.]+.*\S")]
RelativePath = Annotated[str, BeforeValidator(read_relative_path), _schema()]
Label = Annotated[str, StringConstraints(min_length=1, max_length=80, strip_whitespace=True)]
Sentence = Annotated[str, StringConstraints(min_length=1, max_length=2000, strip_whitespace=True)]
