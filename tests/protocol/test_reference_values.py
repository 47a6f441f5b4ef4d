"""Values of materials as reference values: U divided by k, in the method's unit."""

import pytest

from validate.protocol.fields import read_quantity
from validate.protocol.model import Material
from validate.studies.references import reference_values


def reference(unit="µg/kg", **material):
    found = reference_values({"m": Material.model_validate({"kind": "certified material"} | material)}, unit)
    return found.get("m")


def test_standard_uncertainty_is_the_expanded_one_over_k():
    found = reference(value="5 µg/kg", U="0.3 µg/kg", k="2")
    assert (found.value, found.u) == (5, pytest.approx(0.15))


def test_value_and_uncertainty_are_converted_to_the_unit_of_the_method():
    found = reference(value="0.005 mg/kg", U="0.3 µg/kg", k="2")
    assert (found.value, found.u) == (pytest.approx(5), pytest.approx(0.15))


def test_uncertainty_in_percent_is_relative_to_the_value():
    assert reference(value="5 µg/kg", U="6 %", k="2").u == pytest.approx(0.15)


def test_uncertainty_of_a_value_in_percent_is_in_its_unit_and_not_relative():
    assert reference("%", value="12 %", U="0.3 %", k="2").u == pytest.approx(0.15)


def test_material_without_uncertainty_has_none_and_one_of_another_kind_of_quantity_is_left_out():
    assert reference(value="5 µg/kg").u is None
    assert reference(value="1000 ng/mL", U="30 ng/mL", k="2") is None
    assert reference() is None


@pytest.mark.parametrize("text", ["1e31 µg/kg", "1e-31 µg/kg", "1e300 µg/kg"])
def test_quantity_that_can_be_no_amount_is_refused(text):
    with pytest.raises(ValueError, match="0 or a number from 1e-30 to 1e\\+30"):
        read_quantity(text)
