"""Inverse prediction, Fieller limits and limits from a calibration against 40-digit arithmetic."""

from __future__ import annotations

import pytest

from validate.stats.detection import from_calibration
from validate.stats.regression import inverse_predict, line

FILE = "general/inverse_prediction.toml"
SETS = ("formaldehyde", "dnase_low", "lactic")
SOURCE = {"formaldehyde": ("formaldehyde.csv", 99), "dnase_low": ("dnase_run1.csv", 1.6), "lactic": ("lactic.csv", 99)}


@pytest.fixture
def calibration(rows, reference):
    def read(name, **choices):
        file, up_to = SOURCE[name]
        table = [[float(cell) for cell in row.values()] for row in rows(f"general/{file}")]
        x, y = zip(*(row for row in table if row[0] < up_to), strict=True)
        return line(x, y, **choices), reference(FILE)[name]

    return read


@pytest.mark.parametrize("name", SETS)
def test_the_content_and_its_standard_error_agree_to_eleven_digits(name, calibration, digits_agreed):
    fit, wanted = calibration(name)
    assert len(wanted["inverse"]) == 6
    for case in wanted["inverse"]:
        found = inverse_predict(fit, case["y0"], m=case["m"])
        assert digits_agreed(found.x, case["x"]) >= 11, case
        assert digits_agreed(found.s_x, case["s_x"]) >= 11, case


@pytest.mark.parametrize("name", SETS)
def test_limits_are_those_of_fieller(name, calibration, digits_agreed):
    fit, wanted = calibration(name)
    for case in wanted["inverse"]:
        found = inverse_predict(fit, case["y0"], m=case["m"], level=0.95)
        assert found.bounded
        assert digits_agreed(found.low, case["low"]) >= 10, case
        assert digits_agreed(found.high, case["high"]) >= 10, case


@pytest.mark.parametrize("name", SETS)
def test_equal_weights_of_any_size_change_nothing(name, calibration):
    """Weights are relative: with 7 at every level, y0 weighs 7 as well."""
    fit, wanted = calibration(name)
    weighted, _ = calibration(name, weights=[7.0] * len(fit.residuals))
    for case in wanted["inverse"]:
        plain = inverse_predict(fit, case["y0"], m=case["m"])
        found = inverse_predict(weighted, case["y0"], m=case["m"], weight_at_y0=7.0)
        for part in ("x", "s_x", "low", "high"):
            assert getattr(found, part) == pytest.approx(getattr(plain, part), rel=1e-11), (case, part)


@pytest.mark.parametrize("name", SETS)
def test_multiples_of_the_residual_scatter_over_the_slope_agree(name, calibration, digits_agreed):
    fit, wanted = calibration(name)
    found = from_calibration(fit, sd="residual")
    assert digits_agreed(found.lod, wanted["lod_residual_sd"]) >= 11
    assert digits_agreed(found.loq, wanted["loq_residual_sd"]) >= 11
    assert digits_agreed(from_calibration(fit, sd="residual", k_detect=3).lod, wanted["three_residual_sd"]) >= 11
