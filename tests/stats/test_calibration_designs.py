"""Sample sizes for linearity and detection, against the values of the design and closed forms."""

from __future__ import annotations

import math

import pytest
from scipy import special

from validate.stats.design_calibration import (
    blanks_for_detection,
    linearity_power,
    replicates_for_linearity,
    trials_for_detection,
)
from validate.stats.detection import proportion

SIZES = {
    0.5: (36, 45, 49),
    0.75: (17, 21, 23),
    1: (11, 13, 14),
    1.25: (8, 9, 10),
    1.5: (6, 7, 7),
    2: (4, 5, 5),
    3: (3, 4, 4),
}
"""margin/s: replicates for power 0.8, 0.9, and for three independent levels all passing with 0.8."""


@pytest.mark.parametrize("ratio", SIZES)
def test_replicates_when_each_level_knows_only_its_own_scatter(ratio):
    found = (
        replicates_for_linearity(ratio, 1, scatter="level").n,
        replicates_for_linearity(ratio, 1, scatter="level", power=0.9).n,
        replicates_for_linearity(ratio, 1, scatter="level", power=0.8 ** (1 / 3)).n,
    )
    assert found == SIZES[ratio]


@pytest.mark.parametrize(("ratio", "n"), [(0.5, 50), (1, 14), (1.5, 8), (3, 4)])
def test_three_levels_are_planned_without_trusting_their_independence(ratio, n):
    """Power 1 − 0.2/3 each: at most one replicate more than for independent levels."""
    assert replicates_for_linearity(ratio, 1, scatter="level", levels=3).n == n
    assert n - SIZES[ratio][2] <= 1


@pytest.mark.parametrize(
    ("margin", "n", "true", "power"), [(1, 10, 0, 0.7952), (1, 10, 0.5, 0.4240), (1.5, 6, 0, 0.8629), (1, 10, 1, 0.05)]
)
def test_chance_that_the_interval_of_a_level_lies_inside(margin, n, true, power):
    found = linearity_power(margin, 1, n, levels=1, scatter="level", true_deviation=true)
    assert found == pytest.approx(power, abs=0.0001)


def test_pooled_scatter_never_needs_more_replicates():
    for levels in (2, 5, 8):
        pooled, own = (replicates_for_linearity(2, 1, levels=levels, scatter=how) for how in ("pooled", "level"))
        assert pooled.n <= own.n and pooled.df == levels * (pooled.n - 1)


def test_trials_are_the_fewest_whose_lower_limit_proves_the_claim():
    for misses, n in enumerate((59, 93, 124)):
        assert trials_for_detection(misses) == n
        assert proportion(n - misses, n, level=0.9).low >= 0.95 > proportion(n - 1 - misses, n - 1, level=0.9).low
    assert trials_for_detection(0, probability=0.5) == math.ceil(math.log(0.05) / math.log(0.5))


@pytest.mark.parametrize("ratio", [1.2, 1.5, 2.0])
def test_blanks_are_the_fewest_whose_factor_stays_within_the_claim(ratio):
    n = blanks_for_detection(ratio)

    def factor(df):
        return math.sqrt(df / special.chdtri(df, 0.95))

    assert factor(n - 1) <= ratio < factor(n - 2)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: replicates_for_linearity(1, 1, true_deviation=1), "not inside"),
        (lambda: replicates_for_linearity(1, 1, power=80), "between 0 and 1"),
        (lambda: replicates_for_linearity(1, 1000), "too narrow"),
        (lambda: replicates_for_linearity(1, 1, levels=0), "levels"),
        (lambda: linearity_power(1, 1, 1, levels=3), "replicates must be a whole number, at least 2"),
        (lambda: linearity_power(1, 0, 3, levels=3), "s must be above 0"),
        (lambda: trials_for_detection(-1), "misses"),
        (lambda: blanks_for_detection(1.0), "above 1"),
        (lambda: blanks_for_detection(1.0001), "too near"),
    ],
)
def test_a_design_that_no_number_saves_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()
