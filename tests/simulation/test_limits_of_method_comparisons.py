"""Simulation: how often limits of a method comparison hold the true value.

Contents evenly spaced from 10 to 100, both methods with normal errors of SD 3, true line
y = 1.1·x − 2. Stated: per cent of sets whose limits hold the truth, from an earlier run of
as many sets with seed 1; a second run may differ by 3·√2 standard errors.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from validate.stats.comparison import bias_at, bland_altman, deming, passing_bablok

SEED = 20310303
SLOPE, INTERCEPT, SD, AT = 1.1, -2.0, 3.0, 40.0
LIMIT = 1.96


def sets(n, number, seed):
    rng = np.random.default_rng(seed)
    content = np.linspace(10, 100, n)
    for _ in range(number):
        yield content + rng.normal(0, SD, n), INTERCEPT + SLOPE * content + rng.normal(0, SD, n)


def of_lines(n, number, draw, seed=SEED):
    """Per cent of sets whose limits hold slope, intercept and the bias at 40."""
    held = np.zeros(3)
    for x, y in sets(n, number, seed):
        fit = draw(x, y)
        bias = bias_at(fit, AT, x=x).limits
        truths = ((SLOPE, fit.slope_limits), (INTERCEPT, fit.intercept_limits), (INTERCEPT + (SLOPE - 1) * AT, bias))
        held += [limits.low <= truth <= limits.high for truth, limits in truths]
    return tuple(100 * held / number)


def of_agreement(n, number, seed=SEED):
    """Per cent of sets whose limits hold bias and upper limit of agreement (differences of SD 1)."""
    rng = np.random.default_rng(seed)
    held = np.zeros(2)
    for differences in rng.normal(size=(number, n)):
        found = bland_altman(np.zeros(n), differences)
        held += [found.bias_limits.low <= 0 <= found.bias_limits.high,
                 found.upper_limits.low <= LIMIT <= found.upper_limits.high]  # fmt: skip
    return tuple(100 * held / number)


def of_replicates(n, number, seed=SEED):
    """The same with three readings of x, two of y, within-sample SDs 1 and 2, differences between samples of SD 1."""
    rng = np.random.default_rng(seed)
    names_x, names_y = np.repeat(np.arange(n), 3), np.repeat(np.arange(n), 2)
    limit, held = LIMIT * math.sqrt(1 + 1 + 4), 0
    for _ in range(number):
        x = rng.normal(0, 1, 3 * n)
        y = np.repeat(rng.normal(0, 1, n), 2) + rng.normal(0, 2, 2 * n)
        found = bland_altman(x, y, samples_x=names_x.tolist(), samples_y=names_y.tolist()).upper_limits
        held += found.low <= limit <= found.high
    return (100 * held / number,)


STATED = {
    ("deming", 40, 20_000): (94.97, 94.90, 94.90),
    ("deming", 15, 20_000): (94.66, 94.08, 94.58),
    ("ranks", 40, 2_000): (95.45, 92.85, 96.70),
    ("ranks", 20, 1_000): (95.10, 95.80, 96.80),
    ("agreement", 20, 20_000): (95.07, 93.72),
    ("agreement", 40, 20_000): (94.85, 94.18),
    ("replicates", 20, 20_000): (95.14,),
}
"""(way, samples, sets) → slope, intercept, bias at 40; or bias and upper limit of agreement; or the latter alone."""


def run(name, n, number, seed=SEED):
    ways = {
        "deming": lambda: of_lines(n, number, lambda x, y: deming(x, y, variance_ratio=1), seed),
        "ranks": lambda: of_lines(n, number, passing_bablok, seed),
        "agreement": lambda: of_agreement(n, number, seed),
        "replicates": lambda: of_replicates(n, number, seed),
    }
    return ways[name]()


@pytest.mark.slow
@pytest.mark.parametrize(("name", "n", "number"), STATED)
def test_limits_hold_the_truth_as_often_as_stated(name, n, number):
    for found, stated in zip(run(name, n, number), STATED[name, n, number], strict=True):
        assert found == pytest.approx(stated, abs=3 * math.sqrt(2) * math.sqrt(stated * (100 - stated) / number))
