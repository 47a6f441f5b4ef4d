"""How often linearity is shown when it holds, and when one level lies exactly at the bound."""

from __future__ import annotations

import math

import numpy as np
import pytest

from validate.stats.regression import line
from validate.studies.linearity.calibration import calibration_of
from validate.studies.linearity.deviations import bend_of, deviations_of
from validate.studies.linearity.level_findings import largest_finding
from validate.studies.linearity.tests.linearity_bench import job

SEED = 20310309
SETS = 4000
LEVELS = np.repeat([1.0, 2.0, 5.0, 10.0, 20.0, 40.0], 3)
RSD = 0.02


def shown(truth: np.ndarray, bound: float) -> float:
    """Share of sets in which the upper limit of the largest deviation is not above the bound."""
    random = np.random.default_rng(SEED)
    met = 0
    for _ in range(SETS):
        y = truth * (1 + RSD * random.standard_normal(len(truth)))
        calibration = calibration_of(job(LEVELS.astype(int).tolist(), y.tolist(), weights="1/x^2"))
        finding = largest_finding(calibration, deviations_of(calibration), bend_of(calibration))
        met += finding.interval("met").high <= bound
    return met / SETS


def deviation_from_its_own_line(truth: np.ndarray) -> float:
    """The largest deviation without scatter, in percent of the level."""
    fit = line(LEVELS, truth, LEVELS**-2.0)
    return float(np.max(np.abs(100 * ((truth - fit.intercept) / fit.slope - LEVELS) / LEVELS)))


@pytest.mark.slow
def test_level_at_the_bound_is_shown_to_be_within_it_in_at_most_five_percent() -> None:
    truth = 2 * LEVELS
    truth[LEVELS == 10] *= 1.08
    bound = deviation_from_its_own_line(truth)
    assert bound > 5
    assert shown(truth, bound) <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / SETS)


@pytest.mark.slow
def test_straight_line_is_shown_when_the_bound_is_wide_against_the_scatter() -> None:
    """Bound 6 %, s of a mean 1.2 %: each level passes with 0.9985 or more, the curve almost always."""
    assert shown(2 * LEVELS, 6.0) > 0.97
