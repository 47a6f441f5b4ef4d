"""Precision as a function of level: forms that are exact are found exactly."""

from __future__ import annotations

import numpy as np
import pytest

from validate.stats.precision_function import precision_function

LEVELS = np.array([0.5, 1.0, 5.0, 20.0, 100.0])


@pytest.mark.parametrize(
    ("form", "sd", "intercept", "slope"),
    [
        ("proportional", 0.08 * LEVELS, 0.0, 0.08),
        ("linear", 0.3 + 0.05 * LEVELS, 0.3, 0.05),
        ("power", 0.02 * LEVELS**0.8495, np.log10(0.02), 0.8495),
    ],
)
def test_an_exact_form_is_recovered(form, sd, intercept, slope):
    fit = precision_function(LEVELS, sd, form=form)
    assert (fit.intercept, fit.slope) == pytest.approx((intercept, slope), rel=1e-10, abs=1e-12)
    assert fit.fitted == pytest.approx(sd, rel=1e-10)
    assert fit.residual_percent == pytest.approx(0, abs=1e-8)


def test_proportional_form_is_the_mean_of_the_relative_standard_deviations():
    sd = np.array([0.06, 0.09, 0.35, 2.1, 7.0])
    assert precision_function(LEVELS, sd, form="proportional").slope == pytest.approx(np.mean(sd / LEVELS), rel=1e-14)


@pytest.mark.parametrize("form", ["proportional", "linear", "power"])
def test_another_unit_changes_nothing_but_the_unit(form):
    sd = np.array([0.06, 0.09, 0.35, 2.1, 7.0])
    one, other = precision_function(LEVELS, sd, form=form), precision_function(1000 * LEVELS, 1000 * sd, form=form)
    assert other.fitted == pytest.approx([1000 * s for s in one.fitted], rel=1e-9)


@pytest.mark.parametrize(
    ("mean", "sd", "words"),
    [
        ([1, 2], [0.1, 0.2], "at least 3"),
        ([1, 2, 3], [0.1, 0.2], "at least 3"),
        ([1, 2, 3, 4], [0.1, 0.2, 0.3], "4 means"),
        ([0, 1, 2], [0.1, 0.2, 0.3], "above 0"),
        ([1, 1, 1], [0.1, 0.2, 0.3], "all means are equal"),
    ],
)
def test_levels_that_cannot_be_fitted_are_refused(mean, sd, words):
    with pytest.raises(ValueError, match=words):
        precision_function(mean, sd, form="linear")


def test_a_linear_form_that_falls_below_zero_is_refused():
    with pytest.raises(ValueError, match="no positive standard deviation"):
        precision_function([1, 2, 4, 8], [0.9, 0.1, 0.6, 1.4], form="linear")
