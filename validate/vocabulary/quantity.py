"""Quantities with units: `20 g`, `12 h`, `30 ng/mL`; conversion by a unit library.

The library is imported on first use. A percent is a unit of its own and never converts
to a bare fraction in silence.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Any

_QUANTITY = re.compile(r"\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*(\S.*?)?\s*")
_SPELLINGS = {"ppb": "µg/kg", "ppm": "mg/kg", "ppt": "ng/kg", "% (m/m)": "g/hg", "mass %": "g/hg"}


@dataclass(frozen=True)
class Quantity:
    """A number with its unit, and the text it was read from."""

    value: float
    unit: str
    text: str

    def to(self, unit: str) -> float:
        """The value in `unit`; ValueError when the dimensions differ."""
        return self.value * conversion_factor(self.unit, unit)


def parse_quantity(text: str) -> Quantity:
    """Read `20 g`; ValueError says what is missing."""
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise ValueError("a number followed by a unit is expected, for example '20 g'")
    number, unit = match.groups()
    if not unit:
        raise ValueError("the unit is missing; write for example '20 g'")
    check_unit(unit)
    return Quantity(float(number), unit, text.strip())


def check_unit(unit: str) -> None:
    """Raise ValueError when `unit` is not a unit that can be read."""
    _dimension_and_factor(unit)


def conversion_factor(unit: str, target: str) -> float:
    """Factor from `unit` to `target`; ValueError when they measure different things."""
    if unit == target:
        return 1.0
    dimension, factor = _dimension_and_factor(unit)
    target_dimension, target_factor = _dimension_and_factor(target)
    if dimension != target_dimension:
        raise ValueError(f"{unit} cannot be converted to {target}")
    return float(factor / target_factor)


def mass_fraction_per_unit(unit: str) -> float | None:
    """Mass fraction (kg/kg) of one `unit`, or None when the unit is no mass per mass.

    `µg/kg` gives 1e-9. A bare `1` or `%` gives None: it does not say of what.
    """
    if not re.search(r"/|ppb|ppm|ppt|m/m|mass", unit):
        return None
    try:
        return conversion_factor(unit, "kg/kg")
    except ValueError:
        return None


@lru_cache(maxsize=256)
def _dimension_and_factor(unit: str) -> tuple[str, Decimal]:
    if len(unit) > 40 or not re.fullmatch(r"[\w°µμ%/·*^().\- ]+", unit):
        raise ValueError(f"'{unit}' is not a unit")
    spelled = _SPELLINGS.get(unit, unit)
    if spelled == "%":
        return "percent", Decimal(1)
    import pint

    try:
        quantity = _registry().Quantity(Decimal(1), _registry().Unit(spelled)).to_base_units()
    except (pint.errors.PintError, AttributeError, ValueError, TypeError, KeyError, SyntaxError, RecursionError) as error:
        raise ValueError(f"'{unit}' is not a unit that is known here") from error
    dimension = str(quantity.dimensionality)
    if dimension == "dimensionless" and "/" in spelled:
        dimension = _ratio_dimension(spelled)
    return dimension, Decimal(quantity.magnitude)


def _ratio_dimension(spelled: str) -> str:
    """Tell mass per mass from volume per volume, which a unit library both calls dimensionless."""
    numerator = spelled.split("/", 1)[0]
    return f"ratio of {_registry().Unit(numerator).dimensionality}"


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(non_int_type=Decimal)
