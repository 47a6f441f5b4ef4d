"""Simulation: how often sound units pass, and how often sound laboratories are taken out.

Stated rates (simulated once, in the project's statistics notes) are compared within 3·√2
standard errors. The seed was fixed before the first look.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from validate.stats.homogeneity import assess, stability, stability_trend
from validate.stats.interlaboratory import accuracy_experiment, screen

SEED, SETS = 20310303, 20_000
LABORATORIES, REPLICATES = 8, 2


def tolerance(share: float, sets: int = SETS) -> float:
    return 3 * math.sqrt(2) * math.sqrt(share * (1 - share) / sets)


@pytest.mark.slow
def test_units_at_the_limit_pass_the_two_rules_as_often_as_stated():
    """Ten units in duplicate, s_an = s_sam = 0.3·σ_pt: ISO 0.554, IUPAC 0.970 of sets."""
    rng = np.random.default_rng(SEED)
    units, noise = 0.3 * rng.normal(size=(SETS, 10, 1)), 0.3 * rng.normal(size=(SETS, 10, 2))
    found = [assess(one[:, 0], one[:, 1], 1.0) for one in 10 + units + noise]
    iso, iupac = (sum(getattr(f, name) for f in found) / SETS for name in ("iso_met", "iupac_met"))
    assert iso == pytest.approx(0.554, abs=tolerance(0.554))
    assert iupac == pytest.approx(0.970, abs=tolerance(0.970))


@pytest.mark.slow
def test_iupac_refuses_at_most_one_in_twenty_where_nothing_but_the_measurement_scatters():
    """F₂ is made for this: s_sam = 0 and any s_an; far from the limit nothing is refused beyond 5 %."""
    rng = np.random.default_rng(SEED)
    sets = rng.normal(size=(SETS, 10, 2))
    refused = sum(not assess(one[:, 0], one[:, 1], 1.0).iupac_met for one in sets) / SETS
    assert refused <= 0.05 + tolerance(0.05)


@pytest.mark.slow
def test_a_change_at_the_limit_is_taken_for_none_in_at_most_one_in_twenty_rounds():
    """Three units on each occasion, true change 0.3·σ_pt, scatter 0.1·σ_pt: the point rule passes half."""
    rng = np.random.default_rng(SEED)
    sets = 0.1 * rng.normal(size=(SETS, 2, 3))
    found = [stability(one[0], one[1] - 0.3, 1.0) for one in sets]
    shown = sum(-f.limit <= f.low and f.high <= f.limit for f in found) / SETS
    assert shown <= 0.05 + tolerance(0.05)
    assert sum(f.point_met for f in found) / SETS == pytest.approx(0.5, abs=tolerance(0.5))


@pytest.mark.slow
def test_a_trend_to_the_limit_is_taken_for_none_in_at_most_one_in_twenty_rounds():
    """Five occasions, true change 0.3·σ_pt over the period: its 90 % interval covers it, the point rule passes half."""
    rng = np.random.default_rng(SEED)
    days = np.array([0.0, 14.0, 28.0, 42.0, 56.0])
    sets = 10 + 0.3 * days / 56 + 0.05 * rng.normal(size=(SETS, days.size))
    found = [stability_trend(days, means, 1.0, period=56) for means in sets]
    assert sum(f.low <= 0.3 <= f.high for f in found) / SETS == pytest.approx(0.90, abs=tolerance(0.90))
    shown = sum(-f.limit <= f.low and f.high <= f.limit for f in found) / SETS
    assert shown <= 0.05 + tolerance(0.05)
    assert sum(f.point_met for f in found) / SETS == pytest.approx(0.5, abs=tolerance(0.5))


@pytest.mark.slow
@pytest.mark.parametrize(("removal", "share", "loss"), [(0.01, 0.020, 0.006), (0.05, 0.092, 0.032)])
def test_sound_laboratories_are_taken_out_as_often_as_stated(removal, share, loss):
    """Eight laboratories in duplicate, σ_L = σ_r = 1: studies that lose one, loss of s_R² (2 in truth)."""
    rng = np.random.default_rng(SEED)
    names = np.repeat(np.arange(LABORATORIES), REPLICATES)
    sets = rng.normal(size=(SETS, LABORATORIES, 1)) + rng.normal(size=(SETS, LABORATORIES, REPLICATES))
    lost = []
    for one in sets.reshape(SETS, -1):
        removed = screen(one, names.tolist(), removal=removal).removed
        kept = ~np.isin(names, removed)
        if removed:
            lost.append(s_R_squared(one, names) - s_R_squared(one[kept], names[kept]))
    assert len(lost) / SETS == pytest.approx(share, abs=tolerance(share))
    assert sum(lost) / SETS / 2 == pytest.approx(loss, abs=0.002)


def s_R_squared(values, names):
    (at,) = accuracy_experiment(values, names.tolist(), [1] * values.size).levels
    return at.s_R**2
