"""The Horwitz and Thompson curves and the four forms of HorRat."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.stats.horwitz import DIVISOR, horrat, predicted_rsd_percent, predicted_sd

MODELS = ("horwitz", "horwitz-aoac", "thompson")


def test_the_two_horwitz_curves_differ_by_one_per_cent_at_one_microgram_per_kilogram():
    regulation, aoac = (predicted_rsd_percent(1e-9, model=model) for model in ("horwitz", "horwitz-aoac"))
    assert (round(regulation, 2), round(aoac, 2)) == (45.25, 44.77)


def test_thompson_branches_nearly_meet():
    below, above = predicted_rsd_percent([1.2e-7 * (1 - 1e-9), 1.2e-7], model="thompson")
    assert (float(below), round(float(above), 2)) == (22.0, 22.01)
    middle, high = predicted_rsd_percent([0.138, 0.138 * (1 + 1e-9)], model="thompson")
    assert (round(float(middle), 5), round(float(high), 5)) == (2.69450, 2.69191)


@given(st.floats(1e-12, 1.0), st.sampled_from(MODELS))
def test_predicted_sd_is_the_predicted_rsd_of_the_mass_fraction(fraction, model):
    rsd = predicted_rsd_percent(fraction, model=model)
    assert predicted_sd(fraction, model=model) == pytest.approx(fraction * rsd / 100, rel=1e-15)


def test_an_array_gives_an_array_and_a_number_gives_a_float():
    assert isinstance(predicted_rsd_percent(1e-6, model="horwitz"), float)
    assert np.allclose(predicted_rsd_percent([1.0, 1e-6], model="horwitz"), [2, 16])


def test_forms_of_horrat_differ_by_their_divisor_only():
    found = {kind: horrat(20, 1e-6, model="horwitz", kind=kind) for kind in DIVISOR}
    assert found == pytest.approx({kind: 20 / 16 / divisor for kind, divisor in DIVISOR.items()})
    assert max(found.values()) / min(found.values()) == pytest.approx(2)


@pytest.mark.parametrize("fraction", [0, -1e-9, 1.0001, 5, float("nan"), float("inf")])
def test_a_mass_fraction_outside_its_range_is_refused(fraction):
    with pytest.raises(ValueError, match="mass fraction"):
        predicted_rsd_percent(fraction, model="horwitz")
    with pytest.raises(ValueError, match="mass fraction"):
        horrat(10, fraction, model="horwitz", kind="R")


def test_model_and_kind_have_no_default_and_no_unknown_value():
    with pytest.raises(TypeError):
        predicted_rsd_percent(1e-6)
    with pytest.raises(ValueError, match="unknown model"):
        predicted_rsd_percent(1e-6, model="horrible")
    with pytest.raises(ValueError, match="unknown kind"):
        horrat(10, 1e-6, model="horwitz", kind="r")
