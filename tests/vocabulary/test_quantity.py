"""Quantities: what is read, what is refused, and that the fast table agrees with the unit library."""

import contextlib
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.vocabulary.quantity import (
    ask_library,
    check_unit,
    common_units,
    conversion_factor,
    mass_fraction_per_unit,
    parse_quantity,
)


def test_every_common_unit_agrees_with_the_unit_library():
    for unit, expected in common_units().items():
        if unit not in ("%", "1"):  # these two are words of our own: no number stands for the other
            assert ask_library(unit) == expected, unit


def test_common_units_do_not_import_the_unit_library():
    code = (
        "import sys; from validate.vocabulary.quantity import conversion_factor, parse_quantity;"
        "parse_quantity('12 h').to('min'); conversion_factor('µg/kg', 'ng/g'); conversion_factor('%', '%');"
        "sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("20 g", 20.0, "g"),
        ("20g", 20.0, "g"),
        (" 1.5e3 ng/mL ", 1500.0, "ng/mL"),
        (".5 L", 0.5, "L"),
        ("3 %", 3.0, "%"),
    ],
)
def test_a_quantity_is_a_number_and_a_unit(text, value, unit):
    quantity = parse_quantity(text)
    assert (quantity.value, quantity.unit, quantity.text) == (value, unit, text.strip())


@pytest.mark.parametrize(
    "text", ["20", "g", "", "1,5 g", "1.2.3 g", "5 1", "20 florins", "٣ g", "NaN g", "1e9999 g", "9" * 99 + " g"]
)
def test_what_is_no_quantity_is_refused(text):
    with pytest.raises(ValueError, match=r"expected|unit"):
        parse_quantity(text)


@pytest.mark.parametrize(
    ("unit", "target", "factor"),
    [
        ("µg/kg", "ng/g", 1.0),
        ("mg/kg", "µg/kg", 1000.0),
        ("ppb", "µg/kg", 1.0),
        ("ng/mL", "µg/L", 1.0),
        ("d", "h", 24.0),
        ("g/100 g", "mg/kg", 10_000.0),
        ("% (m/m)", "g/kg", 10.0),
        ("mg/100 mL", "mg/L", 10.0),
        ("mmol/L", "µmol/mL", 1.0),
    ],
)
def test_units_of_one_kind_convert_exactly(unit, target, factor):
    assert conversion_factor(unit, target) == factor


@pytest.mark.parametrize(
    ("unit", "target"),
    [
        ("µg/kg", "µg/L"),
        ("g/kg", "mL/L"),
        ("%", "g/kg"),
        ("%", "1"),
        ("h", "g"),
        ("mol/mol", "g/g"),
        ("CFU/g", "1/g"),
        ("IU/mL", "CFU/mL"),
    ],
)
def test_units_of_different_kinds_do_not_convert(unit, target):
    """Mass per mass is not volume per volume, and a percent does not say of what."""
    with pytest.raises(ValueError, match="cannot be converted"):
        conversion_factor(unit, target)


@pytest.mark.parametrize(("unit", "target"), [("degC", "K"), ("K", "°C"), ("°C", "°F")])
def test_a_scale_with_its_own_zero_has_no_factor(unit, target):
    with pytest.raises(ValueError, match="zero of the scale"):
        conversion_factor(unit, target)


@pytest.mark.parametrize(
    "unit", ["g^9^9^9^9", "9**9**9", "(" * 30, "g" * 41, "__import__('os')", "g;h", "", "g\n", "%%"]
)
def test_a_hostile_unit_is_refused_at_once(unit):
    with pytest.raises(ValueError, match="not a unit"):
        check_unit(unit)


@given(st.text(alphabet="gkmLlµ%h/*^() 0123456789-.·°eE_", max_size=45))
def test_any_text_is_a_unit_or_refused(text):
    with contextlib.suppress(ValueError):
        check_unit(text)


@pytest.mark.parametrize(
    ("unit", "fraction"),
    [
        ("µg/kg", 1e-9),
        ("ng/g", 1e-9),
        ("ppm", 1e-6),
        ("g/100 g", 1e-2),
        ("% (m/m)", 1e-2),
        ("mL/L", None),
        ("µg/L", None),
        ("%", None),
        ("1", None),
        ("g", None),
    ],
)
def test_only_mass_per_mass_is_a_mass_fraction(unit, fraction):
    assert mass_fraction_per_unit(unit) == fraction
