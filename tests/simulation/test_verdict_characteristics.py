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
from validate.stats.design import days_for_intermediate, pass_probability
from validate.stats.intervals import sd_limits
from validate.stats.precision import intermediate_limits, one_way

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


@pytest.mark.parametrize("true_rsd", STATED)
def test_the_chance_that_is_told_beside_a_verdict_is_the_exact_one(true_rsd):
    told = [
        pass_probability(true_rsd, kind="scaled_chi", high=LIMIT, df=N - 1, by=by) for by in ("estimate", "interval")
    ]
    assert told == pytest.approx(exact_chances(true_rsd), abs=1e-9)


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


@pytest.mark.slow
@pytest.mark.parametrize(("replicates", "stated"), ((2, 0.84), (3, 0.89), (4, 0.91)))
def test_eight_days_show_half_the_limit_as_often_as_planned(replicates, stated):
    """True s_intermediate at half the limit, γ = 1; the power of the plan, stated and simulated from raw results."""
    days = 8
    planned = days_for_intermediate(2.0, replicates=replicates, gamma=1.0, power=stated - 0.02)
    rng = np.random.default_rng(SEED)
    results = rng.normal(size=(SETS, days, replicates)) + rng.normal(size=(SETS, days, 1))
    labels, limit = np.repeat(np.arange(days), replicates).tolist(), 2 * math.sqrt(2)
    shown = sum(intermediate_limits(one_way(one.ravel(), labels), 0.90).high <= limit for one in results) / SETS
    assert planned.n == days
    assert planned.power == pytest.approx(stated, abs=0.005)
    assert shown == pytest.approx(planned.power, abs=3 * math.sqrt(planned.power * (1 - planned.power) / SETS))
