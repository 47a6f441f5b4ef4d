"""Simulation: how many points until a control chart gives a signal, against published values.

Independent normal points, limits known. Published: C. W. Champ, W. H. Woodall, Technometrics 29
(1987) 393-399 (rules together with a point beyond the limits); J. M. Lucas, M. S. Saccucci,
Technometrics 32 (1990) 1-12 (EWMA); D. M. Hawkins' and other tables of the two-sided CUSUM as
repeated in textbooks of quality control. All from memory. Runs are exact: m points in a row of
probability p each come after (p⁻ᵐ − 1)/(1 − p) points on average (W. Feller, An Introduction to
Probability Theory I, XIII.7, from memory), runs on either side of the centre after 2ᵐ − 1. Ranges
beyond their limit: the distribution of the studentized range with σ known, of a general library.
The simulated mean may differ by 3 of its standard errors. The seed was fixed before the first look.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import studentized_range

from validate.stats.control import cusum, ewma, individuals, mean_and_range, run_length, signals

SEED, SETS = 20310303, 20_000
BEYOND, TWO, FOUR, EIGHT = "beyond limits", "two of three beyond 2 s", "four of five beyond 1 s", "run of eight"
RANGE_LIMITS = {2: 3.686, 3: 4.358, 5: 4.918, 7: 5.204}
"""D2 = d2 + 3·d3 in standard deviations as tabulated in ISO 7870-2 (from memory)."""
PUBLISHED = {
    (BEYOND,): 370.40,
    (BEYOND, TWO): 225.44,
    (BEYOND, FOUR): 166.05,
    (BEYOND, EIGHT): 152.73,
    (BEYOND, TWO, FOUR, EIGHT): 91.75,
}
WITHIN_1_S = math.erf(1 / math.sqrt(2))
EXACT = {
    ("run of seven",): 2**7 - 1,
    (EIGHT,): 2**8 - 1,
    ("run of nine",): 2**9 - 1,
    ("fifteen within 1 s",): (WITHIN_1_S**-15 - 1) / (1 - WITHIN_1_S),
}
WITH_MEMORY = {
    ("EWMA", 0.1, 2.814, 0.0): 500,
    ("EWMA", 0.2, 2.962, 0.0): 500,
    ("EWMA", 0.4, 3.054, 0.0): 500,
    ("EWMA", 0.1, 2.814, 1.0): 10.3,
    ("CUSUM", 0.5, 4, 0.0): 168,
    ("CUSUM", 0.5, 5, 0.0): 465,
    ("CUSUM", 0.5, 4, 1.0): 8.38,
    ("CUSUM", 0.5, 5, 1.0): 10.4,
}


@pytest.mark.slow
@pytest.mark.parametrize("rules", [*PUBLISHED, *EXACT])
def test_rules_give_a_false_alarm_as_seldom_as_published(rules):
    mean, error = run_length(rules, sets=SETS, seed=SEED)
    assert mean == pytest.approx((PUBLISHED | EXACT)[rules], abs=3 * error)


@pytest.mark.slow
def test_eight_points_outside_1_s_come_as_seldom_as_runs_of_their_chance():
    """Once in 14,250 points: fewer series than for the other rules."""
    p = 1 - WITHIN_1_S
    mean, error = run_length(["eight outside 1 s"], sets=1000, seed=SEED)
    assert mean == pytest.approx((p**-8 - 1) / (1 - p), abs=3 * error)


@pytest.mark.slow
@pytest.mark.parametrize("n", [2, 3, 5, 7])
def test_means_and_ranges_give_false_alarms_as_often_as_published(n):
    """Means once in 370.4 runs; ranges once in 109 of two readings, 217 of five (from memory), by both charts."""
    runs = 400_000
    found = mean_and_range(np.random.default_rng(SEED).normal(size=(runs, n)), runs_differ=False)
    beyond = {
        "means": (np.mean((found.means < found.lower) | (found.means > found.upper)), 1 / 370.40),
        "ranges": (np.mean(found.ranges > found.range_upper), studentized_range.sf(RANGE_LIMITS[n], n, np.inf)),
    }
    for share, published in beyond.values():
        assert share == pytest.approx(published, abs=3 * math.sqrt(published / runs))
    printed = {2: 109, 5: 217}
    assert n not in printed or round(1 / beyond["ranges"][1]) == printed[n]


@pytest.mark.slow
def test_moving_ranges_lie_beyond_their_limit_as_often_as_ranges_of_two():
    points = 400_000
    found = individuals(np.random.default_rng(SEED).normal(size=points))
    share, chance = (
        np.mean(found.moving_ranges > found.moving_range_upper),
        studentized_range.sf(RANGE_LIMITS[2], 2, np.inf),
    )
    # Neighbouring ranges share a point: a shared outlier makes two of them, so that the error is up to √3 times larger.
    assert share == pytest.approx(chance, abs=3 * math.sqrt(3 * chance / points))


@pytest.mark.slow
@pytest.mark.parametrize(("chart", "first", "second", "shift"), WITH_MEMORY)
def test_charts_with_a_memory_signal_after_as_many_points_as_published(chart, first, second, shift):
    lengths = lengths_of(chart, first, second, shift, 2000 if shift == 0 else 5000)
    published = WITH_MEMORY[chart, first, second, shift]
    # Published figures have three digits: half a unit of the last one comes on top.
    rounding = 0.5 * 10 ** (math.floor(math.log10(published)) - 2)
    error = np.std(lengths, ddof=1) / math.sqrt(len(lengths))
    assert np.mean(lengths) == pytest.approx(published, abs=3 * error + rounding)


def lengths_of(chart, first, second, shift, sets):
    """The point of the first signal of each series; a series is long enough that none is left without one."""
    rng, longest = np.random.default_rng(SEED), 10_000 if shift == 0 else 1000
    lengths = []
    for _ in range(sets):
        x = rng.normal(shift, 1, longest)
        if chart == "EWMA":
            found = ewma(x, centre=0, sigma=1, weight=first, width=second, settled=True).signals
        else:
            found = cusum(x, centre=0, sigma=1, allowance=first, decision=second).signals
        lengths.append(found[0] + 1)
    return lengths


@pytest.mark.slow
@pytest.mark.parametrize("base", [20, 100])
def test_limits_from_a_base_period_hold_further_points_less_often_than_known_ones(base):
    """Stated (20,000 sets, seed 1): 0.9891 of further points within the limits of 20, 0.9961 of 100; known 0.9973."""
    stated = {20: 0.98909, 100: 0.99609}[base]
    rng = np.random.default_rng(SEED)
    sets, further = 4000, 50
    shares = []
    for _ in range(sets):
        found = individuals(rng.normal(size=base))
        later = rng.normal(size=further)
        shares.append(np.mean((later >= found.lower) & (later <= found.upper)))
    error = np.std(shares, ddof=1) / math.sqrt(sets)
    assert np.mean(shares) == pytest.approx(stated, abs=3 * math.sqrt(2) * error)
    assert np.mean(shares) < 0.9973


@pytest.mark.slow
def test_a_shift_of_one_sigma_is_found_sooner_by_cusum_than_by_single_points():
    single, _ = run_length([BEYOND], shift=1.0, sets=5000, seed=SEED)
    assert single == pytest.approx(43.96, rel=0.05)  # 1/(Φ(−2) + Φ(−4)), exact
    assert np.mean(lengths_of("CUSUM", 0.5, 5, 1.0, 2000)) < single / 3


def test_signals_of_a_series_and_of_the_simulation_agree():
    """The first point of `run_length` is that of `signals` on the same numbers."""
    rules = [BEYOND, TWO, FOUR, "run of seven"]
    mean, _ = run_length(rules, shift=1.0, sets=2, seed=SEED)
    series = np.random.default_rng(SEED).normal(1, 1, (2, 256))
    assert mean == np.mean([signals(u, centre=0, sigma=1, rules=rules)[0].at + 1 for u in series])
