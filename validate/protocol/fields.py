"""Types of protocol values: text as written in the file → checked value.

Nothing is guessed: `NO`, `1:30` and `08` stay text unless a type asks for something else.
A refusal is a PydanticCustomError (a ValueError) whose type is a code of `problems.toml`
and whose context carries a `hint`: how to mend this very value.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BeforeValidator, PlainSerializer, StringConstraints, WithJsonSchema
from pydantic_core import PydanticCustomError

from validate.vocabulary.quantity import Quantity, check_unit, common_units, conversion_factor, parse_quantity

NUMBER_PATTERN = r"^\s*[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,3})?\s*$"
_NUMBER = re.compile(NUMBER_PATTERN)
_DECIMAL_COMMA = re.compile(r"\s*[+-]?[0-9]+,[0-9]+\s*")
_NUMBER_AND_MORE = re.compile(r"\s*([+-]?[0-9]+(?:\.[0-9]+)?)\s*\D.*", re.DOTALL)
_LONGEST_NUMBER = 40
SMALLEST_NUMBER, LARGEST_NUMBER = 1e-30, 1e30
"""No amount in any unit lies outside; beyond them squares and ratios leave the range of doubles."""
_UNIT_HINT = "write for example µg/kg, mg/kg, ng/mL or %"


def refusal(code: str, expected: str, **context: object) -> PydanticCustomError:
    """The error for a value that does not fit its type; `code` is a key of `problems.toml`."""
    return PydanticCustomError(code, expected, {"expected": expected, **context})  # type: ignore[arg-type]


def read_number(text: Any) -> float:
    """A finite decimal number; a decimal comma, a thousands sign or a unit is refused."""
    expected = "a number with a decimal point is expected"
    if not isinstance(text, str) or len(text) > _LONGEST_NUMBER or not _NUMBER.fullmatch(text):
        raise refusal("not-a-number", expected, hint=_number_hint(text))
    value = float(text)
    if not math.isfinite(value):
        raise refusal("not-a-number", "a finite number is expected", hint="write a finite number")
    if not is_of_possible_size(value):
        expected = f"0 or a number from {SMALLEST_NUMBER:g} to {LARGEST_NUMBER:g} is expected"
        raise refusal("not-a-number", expected, hint="write a number that can be an amount")
    return value


def is_of_possible_size(value: float) -> bool:
    """Whether a number can be an amount: 0, or neither too small nor too large for any."""
    return value == 0 or SMALLEST_NUMBER <= abs(value) <= LARGEST_NUMBER


def _number_hint(text: Any) -> str:
    if isinstance(text, str) and len(text) <= _LONGEST_NUMBER:
        if _DECIMAL_COMMA.fullmatch(text):
            return f"decimal comma? write {text.strip().replace(',', '.')}"
        if match := _NUMBER_AND_MORE.fullmatch(text):
            return f"write one number alone, without a unit or sign behind it, for example {match[1]}"
    return "write one number with a decimal point, for example 12.5"


def read_positive(text: Any) -> float:
    """A number above zero."""
    value = read_number(text)
    if value <= 0:
        raise refusal("not-positive", "a number above zero is expected")
    return value


def read_count(text: Any) -> int:
    """A whole number from 0 to 999999."""
    if not isinstance(text, str) or not re.fullmatch(r"[0-9]{1,6}", text.strip()):
        raise refusal("not-a-count", "a whole number is expected")
    return int(text)


def read_positive_count(text: Any) -> int:
    """A whole number from 1 to 999999."""
    if (count := read_count(text)) == 0:
        raise refusal("not-a-count", "a whole number of 1 or more is expected")
    return count


def level_text(text: Any) -> str:
    """The canonical decimal text of a level: `5`, `0.5`; `5.0` and `05` become `5`."""
    read_number(text)
    return format(Decimal(text.strip()).normalize() + 0, "f")


def read_level(text: Any) -> str:
    """A level as canonical text; a negative one is refused."""
    if read_number(text) < 0:
        raise refusal("negative-level", "a level of 0 or more is expected")
    return level_text(text)


def read_range(value: Any) -> list[float]:
    """Two numbers, low and high, in this order."""
    expected = "two numbers, low and high, are expected, for example [70, 120]"
    if not isinstance(value, (list, tuple)) or len(value) != 2:
        raise refusal("not-a-range", expected)
    low, high = (read_number(end) for end in value)
    if low > high:
        raise refusal("range-reversed", "the lower end stands first", low=value[0], high=value[1])
    return [low, high]


def read_yes_or_no(text: Any) -> bool:
    """`yes` or `no` (also `true`, `false`), in any case of letters."""
    known = {"yes": True, "true": True, "no": False, "false": False}
    if not isinstance(text, str) or text.strip().lower() not in known:
        raise refusal("not-yes-or-no", "yes or no is expected")
    return known[text.strip().lower()]


def read_date(text: Any) -> dt.date:
    """A day of the calendar, written year-month-day."""
    expected = "a date such as 2031-03-09 is expected"
    if not isinstance(text, str) or not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text.strip()):
        raise refusal("not-a-date", expected)
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError as error:
        raise refusal("not-a-date", expected) from error


def read_unit(text: Any) -> str:
    """A unit that the unit library knows, as written."""
    expected = "a unit such as µg/kg is expected"
    if not isinstance(text, str):
        raise refusal("not-a-unit", expected, hint=_UNIT_HINT)
    try:
        check_unit(text.strip())
    except ValueError as error:
        raise refusal("not-a-unit", expected, hint=_unit_hint(text.strip())) from error
    return text.strip()


def _unit_hint(text: str) -> str:
    """The same unit in other capitals or spacing, where there is one."""
    if len(text) <= _LONGEST_NUMBER:
        spelled = text.replace(" ", "").lower()
        meant = [unit for unit in common_units() if unit.lower() == spelled]
        if meant:
            return f'did you mean "{meant[0]}"?'
    return _UNIT_HINT


def read_quantity(text: Any) -> Quantity:
    """A number followed by a unit."""
    try:
        quantity = parse_quantity(text)
    except (ValueError, TypeError) as error:
        expected = "a number followed by a unit is expected"
        raise refusal("not-a-quantity", expected, hint=_quantity_hint(text)) from error
    if not is_of_possible_size(quantity.value):
        expected = f"0 or a number from {SMALLEST_NUMBER:g} to {LARGEST_NUMBER:g} is expected"
        raise refusal("not-a-quantity", expected, hint="write a number that can be an amount")
    return quantity


def _quantity_hint(text: Any) -> str:
    if isinstance(text, str) and len(text) <= _LONGEST_NUMBER:
        if re.match(r"\s*[+-]?[0-9]+,[0-9]", text):
            return f"decimal comma? write {text.strip().replace(',', '.', 1)}"
        if _NUMBER.fullmatch(text):
            return f"write the unit behind it, for example {text.strip()} g"
    return "write a number and a unit, for example 20 g, 15 mL, 12 h or 30 ng/mL"


def quantity_of(example: str, *units: str) -> BeforeValidator:
    """Accepts only positive quantities that convert to one of `units`; `example` shows how."""

    def read(text: Any) -> Quantity:
        quantity = read_quantity(text)
        if not any(_converts(quantity.unit, unit) for unit in units):
            raise refusal("wrong-dimension", f"a quantity such as {example} is expected", example=example)
        if quantity.value <= 0:
            raise refusal("not-positive", "a quantity above zero is expected")
        return quantity

    return BeforeValidator(read)


def _converts(unit: str, target: str) -> bool:
    try:
        conversion_factor(unit, target)
    except ValueError:
        return False
    return True


def read_relative_path(text: Any) -> str:
    """A file inside the protocol's folder, written with forward slashes."""
    parts = text.split("/") if isinstance(text, str) else []
    if not parts or len(text) > 200 or any(p in ("", ".", "..") or re.search(r"[\\:\x00-\x1f]", p) for p in parts):
        raise refusal(
            "not-inside-folder", "a file inside the protocol's folder is expected, for example 'recovery.csv'"
        )
    return text


def one_or_many(value: Any) -> Any:
    """A single value where a list may stand becomes a list of one."""
    return value if isinstance(value, (list, tuple)) else [value]


_AS_TEXT = PlainSerializer(lambda quantity: quantity.text, return_type=str, when_used="json")
_NUMBER_SCHEMA = {"type": ["number", "string"], "pattern": NUMBER_PATTERN}
_QUANTITY_SCHEMA = WithJsonSchema({"type": "string", "pattern": r"^\s*[+-]?[0-9]*\.?[0-9]+[^,]*\S"})
_SCALAR = ["string", "number", "boolean"]

Number = Annotated[float, BeforeValidator(read_number), WithJsonSchema(_NUMBER_SCHEMA)]
PositiveNumber = Annotated[
    float, BeforeValidator(read_positive), WithJsonSchema({**_NUMBER_SCHEMA, "exclusiveMinimum": 0})
]
Count = Annotated[
    int,
    BeforeValidator(read_count),
    WithJsonSchema({"type": ["integer", "string"], "minimum": 0, "maximum": 999999, "pattern": r"^\s*[0-9]{1,6}\s*$"}),
]
PositiveCount = Annotated[
    int,
    BeforeValidator(read_positive_count),
    WithJsonSchema({"type": ["integer", "string"], "minimum": 1, "maximum": 999999, "pattern": r"^\s*[0-9]{1,6}\s*$"}),
]
LevelText = Annotated[str, BeforeValidator(read_level), WithJsonSchema({**_NUMBER_SCHEMA, "minimum": 0})]
Range = Annotated[
    tuple[float, float],
    BeforeValidator(read_range),
    WithJsonSchema({"type": "array", "items": _NUMBER_SCHEMA, "minItems": 2, "maxItems": 2}),
]
YesNo = Annotated[bool, BeforeValidator(read_yes_or_no), WithJsonSchema({"enum": ["yes", "no", True, False]})]
Date = Annotated[dt.date, BeforeValidator(read_date), WithJsonSchema({"type": "string", "format": "date"})]
UnitText = Annotated[str, BeforeValidator(read_unit), WithJsonSchema({"type": "string", "maxLength": 40})]
QuantityText = Annotated[Any, BeforeValidator(read_quantity), _AS_TEXT, _QUANTITY_SCHEMA]
MassOrVolume = Annotated[Any, quantity_of("20 g or 10 mL", "g", "mL"), _AS_TEXT, _QUANTITY_SCHEMA]
Volume = Annotated[Any, quantity_of("15 mL", "mL"), _AS_TEXT, _QUANTITY_SCHEMA]
Duration = Annotated[Any, quantity_of("12 h or 10 d", "h"), _AS_TEXT, _QUANTITY_SCHEMA]
RelativePath = Annotated[str, BeforeValidator(read_relative_path), WithJsonSchema({"type": "string", "maxLength": 200})]
Label = Annotated[
    str,
    StringConstraints(min_length=1, max_length=80, strip_whitespace=True),
    WithJsonSchema({"type": _SCALAR, "minLength": 1, "maxLength": 80}),
]
SheetName = Annotated[
    str,
    StringConstraints(min_length=1, max_length=31),
    WithJsonSchema({"type": _SCALAR, "minLength": 1, "maxLength": 31}),
]
CellText = Annotated[
    str,
    StringConstraints(max_length=200, strip_whitespace=True),
    WithJsonSchema({"type": _SCALAR, "maxLength": 200}),
]
Sentence = Annotated[
    str,
    StringConstraints(min_length=1, max_length=2000, strip_whitespace=True),
    WithJsonSchema({"type": _SCALAR, "minLength": 1, "maxLength": 2000}),
]
