"""Simulation: limits of the deviation of a level from the line, and of the curve from the line.

The seed was fixed before the first look; coverage is compared within 3 standard errors.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from validate.stats.regression import back_calculated, line, quadratic_against_line

SEED, SETS = 20310303, 8_000
X = np.repeat([1.0, 2.0, 5.0, 10.0, 20.0], 3)
TOLERANCE = 3 * math.sqrt(0.9 * 0.1 / SETS)


def bent(x):
    """True mean signals: a slight bend on a blank of 0.5."""
    return 0.5 + 2 * x - 0.01 * x**2


@pytest.mark.slow
@pytest.mark.parametrize("scatter", ["pooled", "level"])
def test_limits_hold_the_deviation_of_the_true_mean_from_the_line_as_fitted(scatter):
    rng = np.random.default_rng(SEED)
    weights, levels = 1 / X**2, np.unique(X)
    hits = np.zeros(len(levels))
    for noise in rng.standard_normal((SETS, len(X))):
        fit = line(X, bent(X) + 0.05 * X * noise, weights)
        truth = 100 * ((bent(levels) - fit.intercept) / fit.slope - levels) / levels
        rows = back_calculated(fit, scatter=scatter)
        hits += [row.low <= true <= row.high for row, true in zip(rows, truth, strict=True)]
    assert hits / SETS == pytest.approx(np.full(len(levels), 0.90), abs=TOLERANCE)


@pytest.mark.slow
def test_limits_hold_the_distance_of_the_true_curve_from_its_line():
    rng = np.random.default_rng(SEED)
    exact = quadratic_against_line(X, bent(X))
    found = [quadratic_against_line(X, bent(X) + 0.3 * noise) for noise in rng.standard_normal((SETS, len(X)))]
    assert {one.at for one in found} == {exact.at}
    hits = sum(one.low <= exact.deviation_percent <= one.high for one in found)
    assert hits / SETS == pytest.approx(0.90, abs=TOLERANCE)
