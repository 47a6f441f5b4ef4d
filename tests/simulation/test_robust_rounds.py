"""Simulation: what blunders do to robust estimators, and to the scores of sound laboratories.

Sound results are N(0, 1); a share ε of blunders is N(5, 1), all on one side. For each estimator
the value that it tends to with many laboratories follows from its defining equation on this
mixture, solved here by quadrature and not by the code under test; the mean over simulated
rounds of 400 laboratories may differ from it by 3 standard errors and a bias of order 1/p.
Efficiencies on sound results are those of theory. Seed fixed before the first look.

| ε | algorithm A: mean, sd | median, MADe | Q method: sd | sound laboratories with |z| > 3 (σ_pt = 1, algorithm A) |
|---|---|---|---|---|
| 0 % | 0, 1 | 0, 1 | 1 | 0.27 % |
| 10 % | 0.218, 1.220 | 0.140, 1.145 | 1.229 | 0.33 % |
| 20 % | 0.694, 1.851 | 0.319, 1.383 | 1.499 | 1.07 % |
| 30 % | 1.442, 2.706 | 0.566, 1.837 | 1.783 | 5.96 % |
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import special

from tests.simulation.mixture import (
    LABORATORIES,
    ROUNDS,
    SEED,
    SHARES,
    SHIFT,
    limit_of_algorithm_a,
    limit_of_hampels_mean,
    limit_of_median_and_mad,
    limit_of_q,
    limit_of_quartiles,
    rounds,
)
from validate.stats import proficiency, robust

BIAS_OF_P = 3 / LABORATORIES
"""Bias of order 1/p that every spread estimator may have."""


pytestmark = pytest.mark.slow


def agrees(found: np.ndarray, expected: float, slack: float = BIAS_OF_P) -> None:
    error = np.std(found, ddof=1) / math.sqrt(len(found))
    assert abs(np.mean(found) - expected) <= 3 * error + slack


@pytest.mark.parametrize("share", SHARES)
def test_algorithm_a_is_pulled_as_far_as_its_equation_says(share):
    found = robust.algorithm_a(rounds(np.random.default_rng([SEED, 1]), share))
    mean, sd = limit_of_algorithm_a(share)
    agrees(found.mean, mean, BIAS_OF_P * (1 + sd))
    agrees(found.sd, sd, BIAS_OF_P * (1 + 2 * sd))


@pytest.mark.parametrize("share", SHARES)
def test_median_and_mad_are_pulled_as_far_as_their_equations_say(share):
    found = robust.median_mad(rounds(np.random.default_rng([SEED, 2]), share))
    median, sd = limit_of_median_and_mad(share)
    agrees(found.mean, median)
    agrees(found.sd, sd)


@pytest.mark.parametrize("share", SHARES)
def test_the_scaled_interquartile_range_is_pulled_as_far_as_the_quartiles_are(share):
    found = robust.scaled_iqr(rounds(np.random.default_rng([SEED, 12]), share))
    first, third = limit_of_quartiles(share)
    agrees(found.sd, (third - first) / (2 * special.ndtri(0.75)), 2 * BIAS_OF_P)


@pytest.mark.parametrize("share", SHARES)
def test_the_q_method_is_pulled_as_far_as_its_equation_says(share):
    found = robust.q_method(rounds(np.random.default_rng([SEED, 3]), share, sets=600))
    agrees(found.sd, limit_of_q(share))


@pytest.mark.parametrize("share", SHARES)
def test_qn_tends_to_the_same_quarter_of_the_differences(share):
    found = robust.qn(rounds(np.random.default_rng([SEED, 13]), share, sets=600))
    agrees(found, limit_of_q(share), 2 * BIAS_OF_P)


@pytest.mark.parametrize("share", SHARES)
def test_hampels_mean_is_pulled_as_far_as_its_equation_says(share):
    found = robust.q_method(rounds(np.random.default_rng([SEED, 4]), share, sets=600))
    agrees(found.mean, limit_of_hampels_mean(share), 2 * BIAS_OF_P)


def test_efficiencies_on_sound_results_are_those_of_theory():
    """n·variance of the location: 1.0371 algorithm A, π/2 median; of ln spread: 1.3604 MAD, 0.6077 Qn and Q method.

    P. J. Huber, Robust Statistics (1981); P. J. Rousseeuw, C. Croux (1993): 96.4 %, 63.7 %, 36.75 %, 82.27 %.
    """
    x = rounds(np.random.default_rng([SEED, 5]), 0.0)
    a, m = robust.algorithm_a(x), robust.median_mad(x)
    q = robust.q_method(x[:1500])
    figures = {
        "algorithm A": (np.var(a.mean, ddof=1), 1.0371),
        "median": (np.var(m.mean, ddof=1), math.pi / 2),
        "MADe": (np.var(np.log(m.sd), ddof=1), 1.3604),
        "Qn": (np.var(np.log(robust.qn(x[:1500])), ddof=1), 0.6077),
        "Q method": (np.var(np.log(q.sd), ddof=1), 0.6077),
    }
    for name, (variance, expected) in figures.items():
        sets = 1500 if name.startswith("Q") else ROUNDS
        assert LABORATORIES * variance == pytest.approx(expected, rel=3 * math.sqrt(2 / sets) + 0.02), name


@pytest.mark.parametrize("share", SHARES)
def test_sound_laboratories_beyond_three_are_as_many_as_the_shift_of_the_consensus_makes(share):
    """σ_pt prescribed and 1: the share is Φ(−3 − b) + Φ(−3 + b) with the shift b of algorithm A."""
    x = rounds(np.random.default_rng([SEED, 6]), share)
    assigned = robust.algorithm_a(x).mean
    sound = proficiency.z(x, assigned[:, None], 1.0)[:, round(share * LABORATORIES) :]
    found = np.mean(np.abs(sound) > 3, axis=1)
    b = limit_of_algorithm_a(share)[0]
    spread = math.sqrt(1 + 1.04 / LABORATORIES)
    agrees(found, special.ndtr((-3 - b) / spread) + special.ndtr((-3 + b) / spread), 2e-4)


@pytest.mark.parametrize("share", SHARES)
def test_the_spread_of_a_poor_round_as_sigma_hides_what_a_fixed_sigma_shows(share):
    """Of blunders at 5 σ nearly all are beyond 3 with σ_pt = 1 and fewer the more there are with σ_pt = s*."""
    x = rounds(np.random.default_rng([SEED, 7]), share, sets=500)
    found = robust.algorithm_a(x)
    blunders = x[:, : round(share * LABORATORIES)]
    if not blunders.size:
        return
    fixed = np.mean(np.abs(proficiency.z(blunders, found.mean[:, None], 1.0)) > 3)
    own = np.mean(np.abs(proficiency.z(blunders, found.mean[:, None], found.sd[:, None])) > 3)
    mean, sd = limit_of_algorithm_a(share)
    assert fixed == pytest.approx(special.ndtr(SHIFT - mean - 3), abs=0.02)
    assert own == pytest.approx(special.ndtr(SHIFT - mean - 3 * sd), abs=0.03)


@pytest.mark.parametrize(("p", "expected"), [(5, 0.947), (12, 0.968), (20, 0.975)])
def test_the_uncertainty_of_a_consensus_covers_as_often_as_was_said(p, expected):
    """x_pt ± 2·1.25·s*/√p on sound results (coverage stated beforehand; 20,000 rounds)."""
    x = np.random.default_rng([SEED, 8, p]).standard_normal((20_000, p))
    found = robust.algorithm_a(x)
    covered = np.mean(np.abs(found.mean) <= 2.5 * found.sd / math.sqrt(p))
    assert covered == pytest.approx(expected, abs=3 * math.sqrt(expected * (1 - expected) / 20_000) + 0.001)
