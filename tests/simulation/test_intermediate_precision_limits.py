"""Simulation: how often the limits of s_intermediate cover the truth.

Stated values: 95 % two-sided limits, coverage and share of studies in which the truth lies
above the upper limit, for days × replicates and γ = between-day over within-day variance.
They were simulated once; a second simulation may differ by 3·√2 standard errors.
The seed was fixed before the first look.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from validate.stats.intervals import Term, mls_limits, satterthwaite_limits
from validate.stats.precision import intermediate_limits, nested, one_way

SEED, SETS = 20310303, 20_000

STATED = {
    (5, 2, 4): {"mls": (95.7, 1.7), "satterthwaite": (93.2, 4.7)},
    (3, 3, 4): {"mls": (95.6, 1.8), "satterthwaite": (89.2, 8.8)},
    (5, 3, 4): {"mls": (95.2, 2.2), "satterthwaite": (91.6, 6.4)},
    (5, 2, 0): {"mls": (94.9, 0.4)},
}
LIMITS = {"mls": mls_limits, "satterthwaite": satterthwaite_limits}
CASES = [(design, method) for design, methods in STATED.items() for method in methods]


def simulated(design, method):
    """Per cent of sets whose limits cover the truth, and per cent in which it lies above them."""
    days, replicates, gamma = design
    rng = np.random.default_rng(SEED)
    df_between, df_within = days - 1, days * (replicates - 1)
    squares_between = (1 + replicates * gamma) * rng.chisquare(df_between, SETS) / df_between
    squares_within = rng.chisquare(df_within, SETS) / df_within
    truth = math.sqrt(1 + gamma)
    inside = above = 0
    for between, within in zip(squares_between, squares_within, strict=True):
        terms = (Term(between / replicates, df_between), Term((1 - 1 / replicates) * within, df_within))
        limits = LIMITS[method](terms, 0.95)
        inside += limits.low <= truth <= limits.high
        above += truth > limits.high
    return 100 * inside / SETS, 100 * above / SETS


def tolerance(percent):
    """3·√2 standard errors of a percentage from SETS sets."""
    return 3 * math.sqrt(2) * math.sqrt(percent * (100 - percent) / SETS)


@pytest.mark.slow
@pytest.mark.parametrize(("design", "method"), CASES)
def test_coverage_of_the_limits_is_the_stated_one(design, method):
    coverage, above = simulated(design, method)
    stated_coverage, stated_above = STATED[design][method]
    assert coverage == pytest.approx(stated_coverage, abs=tolerance(stated_coverage))
    assert above == pytest.approx(stated_above, abs=tolerance(stated_above))


@pytest.mark.slow
def test_the_default_limits_of_one_way_data_are_these_limits():
    """What is simulated above from mean squares is what `one_way` gives for raw results."""
    rng = np.random.default_rng(SEED)
    for days, replicates in ((3, 3), (5, 2)):
        results = rng.normal(size=(days, replicates)) + 2 * rng.normal(size=(days, 1))
        found = one_way(results.ravel(), np.repeat(np.arange(days), replicates))
        between = replicates * results.mean(axis=1).var(ddof=1)
        within = results.var(axis=1, ddof=1).mean()
        terms = (Term(between / replicates, days - 1), Term((1 - 1 / replicates) * within, days * (replicates - 1)))
        wanted = mls_limits(terms, 0.95)
        assert found.s_intermediate_limits.low == pytest.approx(wanted.low, rel=1e-10)
        assert found.s_intermediate_limits.high == pytest.approx(wanted.high, rel=1e-10)


UNBALANCED = {(1, 1, 2, 5, 5): (94.1, 95.6), (2, 2, 2, 2, 6): (94.7, 95.8), (1, 2, 3, 4, 5, 6, 7, 8): (93.2, 95.0)}
"""Group sizes: lowest and highest coverage stated over γ."""


@pytest.mark.slow
@pytest.mark.parametrize("sizes", UNBALANCED)
@pytest.mark.parametrize("gamma", (0, 1, 4))
def test_coverage_with_unequal_groups_stays_in_the_stated_range(sizes, gamma):
    rng = np.random.default_rng(SEED)
    labels = np.repeat(np.arange(len(sizes)), sizes)
    results = rng.normal(size=(SETS, len(labels)))
    results += math.sqrt(gamma) * rng.normal(size=(SETS, len(sizes)))[:, labels]
    truth, groups = math.sqrt(1 + gamma), labels.tolist()
    limits = (one_way(one, groups).s_intermediate_limits for one in results)
    coverage = 100 * sum(each.low <= truth <= each.high for each in limits) / SETS
    lowest, highest = UNBALANCED[sizes]
    assert lowest - tolerance(lowest) <= coverage <= highest + tolerance(highest)


@pytest.mark.slow
@pytest.mark.parametrize(("days", "replicates"), ((3, 3), (5, 2), (5, 3), (10, 2)))
def test_the_upper_limit_that_criteria_use_is_missed_in_at_most_5_percent(days, replicates):
    """One-sided 95 %, γ = 4, where the stated worst miss is 4.8 % (Satterthwaite: up to 12.4 %)."""
    rng = np.random.default_rng(SEED)
    results = rng.normal(size=(SETS, days, replicates)) + 2 * rng.normal(size=(SETS, days, 1))
    labels, truth = np.repeat(np.arange(days), replicates).tolist(), math.sqrt(5)
    missed = sum(intermediate_limits(one_way(one.ravel(), labels), 0.90).high < truth for one in results)
    assert 100 * missed / SETS <= 4.8 + tolerance(4.8)


@pytest.mark.slow
@pytest.mark.parametrize(("s_outer", "s_inner"), ((0.0, 0.0), (2.0, 0.0), (0.0, 2.0), (2.0, 1.0)))
def test_the_upper_limit_of_nested_data_is_missed_in_at_most_5_percent(s_outer, s_inner):
    """Six days, three calibrations a day, duplicates; s_r = 1. No stated value: the promise is the level itself."""
    rng = np.random.default_rng(SEED)
    results = rng.normal(size=(SETS, 6, 3, 2))
    results += s_outer * rng.normal(size=(SETS, 6, 1, 1)) + s_inner * rng.normal(size=(SETS, 6, 3, 1))
    outer, inner = np.repeat(np.arange(6), 6).tolist(), np.tile(np.repeat(np.arange(3), 2), 6).tolist()
    truth = math.sqrt(1 + s_outer**2 + s_inner**2)
    missed = sum(intermediate_limits(nested(one.ravel(), outer, inner), 0.90).high < truth for one in results)
    assert 100 * missed / SETS <= 5 + 3 * math.sqrt(5 * 95 / SETS)
