"""Quantities with units: `20 g`, `12 h`, `30 ng/mL`; conversion by a unit library.

Common laboratory units come from a small table that a test compares with the library;
the library itself is imported for any other unit. A percent is a unit of its own and
never converts to a bare fraction in silence.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from tokenize import TokenError
from typing import Any

_QUANTITY = re.compile(r"\s*([+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)(?:\s*([^\s0-9.,].*?))?\s*")
_LONGEST_QUANTITY = 80
_LONGEST_UNIT = 40

# One power per name and no other numbers: "9^9^9^9" would keep a machine busy for ever.
_NAME = r"(?:°?[^\W\d]+|%)(?:(?:\^|\*\*)-?[1-9])?"
_UNIT = re.compile(rf"(?:1\s*/\s*)?\(?{_NAME}\)?(?:\s*[/·*]\s*\(?{_NAME}\)?| \(?{_NAME}\)?)*")
_SPELLINGS = {
    "ppb": "µg/kg",
    "ppm": "mg/kg",
    "ppt": "ng/kg",
    "percent": "%",
    "% (m/m)": "g/hg",
    "mass %": "g/hg",
    "g/100 g": "g/hg",
    "mg/100 g": "mg/hg",
    "g/100 mL": "g/dL",
    "mg/100 mL": "mg/dL",
}

_MASS, _VOLUME, _TIME = "[mass]", "[length] ** 3", "[time]"
_MASSES = {"kg": 0, "hg": -1, "g": -3, "mg": -6, "µg": -9, "μg": -9, "ug": -9, "ng": -12, "pg": -15}
_VOLUMES = {"L": -3, "l": -3, "dL": -4, "mL": -6, "ml": -6, "µL": -9, "μL": -9, "uL": -9}
_SECONDS = {"s": 1, "min": 60, "h": 3600, "d": 86400}
_COUNTED = ("IU", "CFU", "NTU", "RFU")
"""Units that a physical library does not know and that convert to nothing else."""


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
    match = _QUANTITY.fullmatch(text) if len(text) <= _LONGEST_QUANTITY else None
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
    """Factor from `unit` to `target`.

    ValueError when they measure different things, or when one of them has a zero of its
    own (`°C`), so that no factor exists. Mass per mass and volume per volume are
    different things, and so are a percent and a bare number.
    """
    if unit == target:
        return 1.0
    dimension, factor = _dimension_and_factor(unit)
    target_dimension, target_factor = _dimension_and_factor(target)
    if factor is None or target_factor is None:
        raise ValueError(f"{unit} cannot be converted to {target} by a factor: the zero of the scale differs")
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


@lru_cache(maxsize=1)
def common_units() -> dict[str, tuple[str, Decimal]]:
    """Unit → its dimension and its factor to kg, m³ and s: masses, volumes, times and ratios of the first two."""
    masses = {unit: (_MASS, Decimal(10) ** power) for unit, power in _MASSES.items()}
    volumes = {unit: (_VOLUME, Decimal(10) ** power) for unit, power in _VOLUMES.items()}
    times = {unit: (_TIME, Decimal(seconds)) for unit, seconds in _SECONDS.items()}
    ratios = {}
    for above, (dimension, factor) in {**masses, **volumes}.items():
        for below, (dimension_below, factor_below) in {**masses, **volumes}.items():
            same = dimension == dimension_below
            ratio = f"ratio of {dimension}" if same else f"{dimension} / {dimension_below}"
            ratios[f"{above}/{below}"] = (ratio, factor / factor_below)
    numbers = {"1": ("dimensionless", Decimal(1)), "%": ("percent", Decimal(1))}
    return {**numbers, **masses, **volumes, **times, **ratios}


def _dimension_and_factor(unit: str) -> tuple[str, Decimal | None]:
    """Dimension, and factor to base units (None on a scale with a zero of its own)."""
    spelled = _SPELLINGS.get(unit, unit)
    known = common_units().get(spelled)
    return known if known is not None else ask_library(spelled)


@lru_cache(maxsize=256)
def ask_library(unit: str) -> tuple[str, Decimal | None]:
    """Dimension and factor of any unit that the unit library knows; ValueError for others."""
    if len(unit) > _LONGEST_UNIT or not _UNIT.fullmatch(unit):
        raise ValueError(f"'{unit}' is not a unit")
    import pint

    refused = (pint.errors.PintError, AttributeError, ValueError, TypeError, KeyError, SyntaxError, ArithmeticError)
    registry = _registry()
    try:
        one, two = (registry.Quantity(Decimal(n), registry.Unit(unit)).to_base_units() for n in (1, 2))
        dimension = str(one.dimensionality)
        if dimension == "dimensionless" and "/" in unit:
            # The library calls mass per mass and volume per volume alike dimensionless.
            dimension = f"ratio of {registry.Unit(unit.split('/', 1)[0]).dimensionality}"
        factor = Decimal(one.magnitude)
        offset = abs(Decimal(two.magnitude) - 2 * factor) > abs(factor) * Decimal("1e-12")
    except (*refused, TokenError) as error:
        raise ValueError(f"'{unit}' is not a unit that is known here") from error
    return dimension, None if offset else factor


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    registry = pint.UnitRegistry(non_int_type=Decimal)
    for unit in _COUNTED:
        registry.define(f"{unit} = [{unit}]")
    return registry
