"""Simulation: how often equivalence is shown, and how often a shift is found, in both forms.

Stated for differences with standard deviation 1: chance that the 90 % interval lies inside
the margin. A second simulation may differ by 3·√2 standard errors; an exact figure by 3.
The seed was fixed before the first look.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from validate.stats.design_lots import shift_power
from validate.stats.equivalence import shift_test, tost_mean, tost_ratio, tost_two_means

SEED, SETS = 20310303, 20_000

STATED = {(10, 1, 1): 5.0, (10, 1, 0): 79.52, (10, 1, 0.5): 42.40, (6, 1.5, 0): 86.29, (5, 0.5, 0.5): 1.1}
"""(pairs, margin, true difference) → per cent of sets shown to be equal."""


TWO_SIMULATIONS = 3 * math.sqrt(2)


def tolerance(percent, errors=TWO_SIMULATIONS):
    return errors * math.sqrt(percent * (100 - percent) / SETS)


def inside(found):
    return found.margin_low <= found.low and found.high <= found.margin_high


@pytest.mark.slow
@pytest.mark.parametrize("design", STATED)
def test_equivalence_of_pairs_is_shown_as_often_as_stated(design):
    n, margin, truth = design
    rng = np.random.default_rng(SEED)
    shown = sum(inside(tost_mean(one, margin)) for one in truth + rng.normal(size=(SETS, n)))
    assert 100 * shown / SETS == pytest.approx(STATED[design], abs=tolerance(STATED[design]))


@pytest.mark.slow
def test_a_ratio_at_its_margin_is_shown_to_be_equal_in_five_per_cent_at_most():
    """Ten pairs, log-normal results with 20 % RSD, true ratio and margin 1.25: stated 4.9 %."""
    rng = np.random.default_rng(SEED)
    sigma = math.sqrt(math.log(1 + 0.2**2))
    current = 100 * np.exp(sigma * rng.normal(size=(SETS, 10)))
    new = 125 * np.exp(sigma * rng.normal(size=(SETS, 10)))
    shown = sum(inside(tost_ratio(a, b, 1.25)) for a, b in zip(new, current, strict=True))
    assert 100 * shown / SETS == pytest.approx(4.9, abs=tolerance(4.9))


@pytest.mark.slow
def test_two_unpaired_samples_at_the_margin_are_shown_to_be_equal_in_five_per_cent():
    """Welch: twelve and eight results, standard deviations 1 and 1.5."""
    rng = np.random.default_rng(SEED)
    new, current = 2.5 + rng.normal(size=(SETS, 12)), 1.5 * rng.normal(size=(SETS, 8))
    shown = sum(inside(tost_two_means(a, b, 2.5)) for a, b in zip(new, current, strict=True))
    assert 100 * shown / SETS == pytest.approx(5.0, abs=tolerance(5.0))


@pytest.mark.slow
@pytest.mark.parametrize("df", [12, 30])
@pytest.mark.parametrize("ratio", [1.0, 1.2])
def test_the_shift_rule_rejects_as_often_as_it_says(ratio, df):
    """Six pairs, RSD 8 %, on logarithms; s is estimated anew for every set, as for every laboratory."""
    rng = np.random.default_rng(SEED)
    s, shift = math.sqrt(2) * 0.08, math.log(ratio)
    differences = shift + s * rng.normal(size=(SETS, 6))
    pooled = s * np.sqrt(rng.chisquare(df, SETS) / df)
    found = (shift_test(one, sd, df, math.log(1.2)) for one, sd in zip(differences, pooled, strict=True))
    rejected = 100 * sum(abs(each.estimate) > each.rejection_limit for each in found) / SETS
    stated = 100 * shift_power(shift, s, 6, df=df)
    assert rejected == pytest.approx(stated, abs=tolerance(stated, 3))


@pytest.mark.slow
def test_the_shift_rule_in_units_of_the_method_rejects_as_often_as_it_says():
    """Five pairs, s known."""
    rng = np.random.default_rng(SEED)
    for shift in (0.0, 1.5):
        found = (shift_test(one, 1.0, math.inf, 1.5) for one in shift + rng.normal(size=(SETS, 5)))
        rejected = 100 * sum(abs(each.estimate) > each.rejection_limit for each in found) / SETS
        stated = 100 * shift_power(shift, 1.0, 5)
        assert rejected == pytest.approx(stated, abs=tolerance(stated, 3))
