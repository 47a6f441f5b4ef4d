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
    from validate.stats.precision import one_way

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
