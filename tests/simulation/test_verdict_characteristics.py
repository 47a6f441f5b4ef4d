"""Simulation: the chance of `met` for RSD ≤ 20 % with six results at one level.

By the estimate `met` means s ≤ limit, by the interval that the one-sided 95 % upper limit
s·√(ν/χ²(0.05; ν)) does. The mean is taken as known, so that s² is chi-square with 5 df and
the chances are exact; the stated ones are these, rounded to three places. A simulation may
differ by 3 standard errors. The seed was fixed before the first look.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import special

from validate.stats.descriptive import summary
from validate.stats.intervals import sd_limits

SEED, SETS, N, LIMIT = 20310303, 20_000, 6, 20.0

STATED = {20.0: (0.584, 0.050), 10.0: (0.999, 0.531)}
"""True RSD: chance of `met` by the estimate, and by the interval."""


def exact_chances(true_rsd):
    """P(χ² ≤ ν·(limit/true)²), and the same for the limit times √(χ²(0.05; ν)/ν)."""
    df = N - 1
    scaled = df * (LIMIT / true_rsd) ** 2
    quantile = 2 * special.gammaincinv(df / 2, 0.05)
    point, bound = (float(special.gammainc(df / 2, x / 2)) for x in (scaled, scaled * quantile / df))
    return point, bound


@pytest.mark.parametrize("true_rsd", STATED)
def test_the_stated_chances_are_the_exact_ones_rounded(true_rsd):
    assert exact_chances(true_rsd) == pytest.approx(STATED[true_rsd], abs=0.0005)


@pytest.mark.slow
@pytest.mark.parametrize("true_rsd", STATED)
def test_six_results_are_met_as_often_as_stated(true_rsd):
    rng = np.random.default_rng(SEED)
    results = 100 + true_rsd * rng.normal(size=(SETS, N))
    sds = [summary(one).sd for one in results]
    met_by_estimate = sum(s <= LIMIT for s in sds) / SETS
    met_by_interval = sum(sd_limits(s, N - 1, 0.90).high <= LIMIT for s in sds) / SETS
    point, bound = exact_chances(true_rsd)
    assert met_by_estimate == pytest.approx(point, abs=3 * math.sqrt(point * (1 - point) / SETS))
    assert met_by_interval == pytest.approx(bound, abs=3 * math.sqrt(bound * (1 - bound) / SETS))
