"""Simulation: what a screening cut-off misses, and how often the limits of its rates hold the truth.

Samples at the target level and blanks are normal. The share of samples at the target that a cut-off
x̄ − t·s misses is exactly P(T ≤ −t/√(1 + 1/n)) on average: 5.7 % at n = 10, 5.4 % at 20. A
simulation may differ by 3 standard errors. The seed was fixed before the first look.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import special

from validate.stats.detection import probability_of_detection, proportion
from validate.stats.screening import cut_off, false_negative_rate, false_suspect_rate

pytestmark = pytest.mark.slow
SEED = 20310303


def three_errors(percent: float, sets: int) -> float:
    return 3 * math.sqrt(percent * (100 - percent) / sets)


@pytest.mark.parametrize(("n", "stated"), ((10, 5.7), (20, 5.4), (40, 5.2)))
@pytest.mark.parametrize("direction", ("proportional", "inverse"))
def test_a_cut_off_misses_more_than_five_percent_at_the_target(n, stated, direction):
    rng, sets, missed = np.random.default_rng(SEED + n), 20_000, 0
    readings, later = rng.normal(5, 0.8, (sets, n)), rng.normal(5, 0.8, sets)
    for row, sample in zip(readings, later, strict=True):
        missed += not cut_off(row, direction=direction).is_suspect(sample)
    expected = 100 * false_negative_rate(n).estimate
    assert round(expected, 1) == stated
    assert 100 * missed / sets == pytest.approx(expected, abs=three_errors(expected, sets))


@pytest.mark.parametrize("n", (6, 20))
def test_limits_of_a_cut_off_and_of_its_false_negative_rate_hold_the_truth(n):
    """For the cut-off of the true mean and SD, and for the share that this very cut-off misses."""
    rng, sets = np.random.default_rng(SEED), 10_000
    rate = false_negative_rate(n)
    held = np.zeros(2)
    for row in rng.normal(5, 0.8, (sets, n)):
        at = cut_off(row, direction="proportional")
        truth = 5 - at.t * 0.8
        missed = special.ndtr((at.value - 5) / 0.8)
        held += [at.low <= truth <= at.high, rate.low <= missed <= rate.high]
    assert 100 * held / sets == pytest.approx([95, 95], abs=three_errors(95, sets))


@pytest.mark.parametrize("true_distance", (0.5, 1.645, 3.0))
@pytest.mark.parametrize("level", (0.90, 0.95))
def test_limits_of_a_false_suspect_rate_hold_the_truth(true_distance, level):
    """The cut-off comes from other samples: it is fixed as far as the blanks go."""
    rng, sets, n = np.random.default_rng(SEED), 4_000, 20
    truth, held = special.ndtr(-true_distance), 0
    for row in rng.standard_normal((sets, n)):
        rate = false_suspect_rate(row, true_distance, direction="proportional", level=level)
        held += rate.low <= truth <= rate.high
    percent = 100 * level
    assert 100 * held / sets == pytest.approx(percent, abs=three_errors(percent, sets))


def test_the_rule_overstates_a_small_false_suspect_rate_on_average():
    """P(T ≥ t) with s for σ: at a true rate of 0.135 % the mean of the figure is larger, never smaller."""
    rng, sets = np.random.default_rng(SEED), 20_000
    found = [false_suspect_rate(row, 3, direction="proportional").estimate for row in rng.standard_normal((sets, 20))]
    assert np.mean(found) > special.ndtr(-3) + 3 * np.std(found) / math.sqrt(sets)


@pytest.mark.parametrize("truth", (0.02, 0.05, 0.3))
def test_exact_limits_of_a_counted_rate_hold_the_truth_at_least_as_often_as_stated(truth):
    """Counts of 20: the coverage is a sum over 21 outcomes, no simulation needed."""
    for level in (0.90, 0.95):
        limits = [proportion(x, 20, level=level) for x in range(21)]
        chances = [math.comb(20, x) * truth**x * (1 - truth) ** (20 - x) for x in range(21)]
        covered = sum(p for p, each in zip(chances, limits, strict=True) if each.low <= truth <= each.high)
        assert covered >= level


def test_limits_of_the_levels_of_a_detection_curve_hold_the_truth():
    """Profile likelihood, 5 levels of 20 samples, logit: close to 95 % of the sets that give a curve."""
    rng, sets = np.random.default_rng(SEED), 1_500
    levels, n = np.array([1.0, 2, 4, 8, 16]), 20
    intercept, slope = -2.5, 1.8
    chances = special.expit(intercept + slope * np.log(levels))
    truths = [math.exp((math.log(p / (1 - p)) - intercept) / slope) for p in (0.5, 0.95)]
    held, made = np.zeros(2), 0
    for hits in rng.binomial(n, chances, (sets, 5)):
        curve = probability_of_detection(levels, [n] * 5, hits, model="logit")
        if curve.level_50 is None:
            continue
        made += 1
        for i, (truth, found) in enumerate(zip(truths, (curve.level_50, curve.level_95), strict=True)):
            high = math.inf if found.high is None else found.high
            held[i] += (found.low or 0) <= truth <= high
    assert made > 0.99 * sets
    assert 100 * held / made == pytest.approx([95, 95], abs=three_errors(95, made))
