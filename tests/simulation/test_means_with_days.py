"""Simulation: intervals of a mean when results come in days, and of a recovery with a native content.

Stated coverage of 95 % intervals (simulated once): an interval that takes all results as
independent, and one from the means of the days; γ = between-day over within-day variance.
A second simulation may differ by 3·√2 standard errors. The seed was fixed before the first look.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from validate.stats.descriptive import summary
from validate.stats.trueness import recovery

SEED, SETS = 20310303, 20_000

STATED_MEAN = {(5, 2, 0): (95.0, 95.0), (5, 2, 1): (88.7, 95.0), (5, 2, 4): (83.6, 95.0), (5, 3, 4): (74.1, 95.0)}
STATED_RECOVERY = (80.1, 94.8)


def covers(limits, truth):
    return limits.low <= truth <= limits.high


def tolerance(percent):
    """3·√2 standard errors of a percentage from SETS sets."""
    return 3 * math.sqrt(2) * math.sqrt(percent * (100 - percent) / SETS)


@pytest.mark.slow
@pytest.mark.parametrize("design", STATED_MEAN)
def test_only_the_interval_from_the_means_of_days_covers_as_promised(design):
    days, replicates, gamma = design
    rng = np.random.default_rng(SEED)
    results = rng.normal(size=(SETS, days, replicates)) + math.sqrt(gamma) * rng.normal(size=(SETS, days, 1))
    labels = np.repeat(np.arange(days), replicates).tolist()
    naive = sum(covers(summary(one.ravel()), 0.0) for one in results)
    grouped = sum(covers(summary(one.ravel(), labels), 0.0) for one in results)
    stated_naive, stated_grouped = STATED_MEAN[design]
    assert 100 * naive / SETS == pytest.approx(stated_naive, abs=tolerance(stated_naive))
    assert 100 * grouped / SETS == pytest.approx(stated_grouped, abs=tolerance(stated_grouped))


@pytest.mark.slow
def test_a_recovery_covers_as_promised_only_with_the_error_of_the_native_content():
    """Three native and six spiked results of one standard deviation; true recovery 100 %."""
    rng = np.random.default_rng(SEED)
    native = 2 + 0.5 * rng.normal(size=(SETS, 3))
    found = 2 + 10 + 0.5 * rng.normal(size=(SETS, 6))
    without = sum(covers(recovery(f, 10, float(n.mean())), 100.0) for f, n in zip(found, native, strict=True))
    with_error = sum(covers(recovery(f, 10, n), 100.0) for f, n in zip(found, native, strict=True))
    stated_without, stated_with = STATED_RECOVERY
    assert 100 * without / SETS == pytest.approx(stated_without, abs=tolerance(stated_without))
    assert 100 * with_error / SETS == pytest.approx(stated_with, abs=tolerance(stated_with))
