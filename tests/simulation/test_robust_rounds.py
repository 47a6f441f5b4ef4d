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
from collections.abc import Callable

import numpy as np
import pytest
from scipy import integrate, optimize, special

from validate.stats import proficiency, robust

SEED = 20310303
SHIFT = 5.0
LABORATORIES, ROUNDS = 400, 3000
SHARES = (0.0, 0.1, 0.2, 0.3)
BIAS_OF_P = 3 / LABORATORIES
"""Bias of order 1/p that every spread estimator may have."""

pytestmark = pytest.mark.slow


def rounds(rng: np.random.Generator, share: float, laboratories: int = LABORATORIES, sets: int = ROUNDS) -> np.ndarray:
    """Rounds with exactly this share of blunders, which stand first."""
    x = rng.standard_normal((sets, laboratories))
    x[:, : round(share * laboratories)] += SHIFT
    return x


def over(share: float, function: Callable[[np.ndarray], np.ndarray], breaks: list[float]) -> float:
    """Expectation of a function under the mixture; `breaks` are its corners."""

    def integrand(x: float) -> float:
        density = (1 - share) * math.exp(-x * x / 2) + share * math.exp(-((x - SHIFT) ** 2) / 2)
        return float(function(np.float64(x))) * density / math.sqrt(2 * math.pi)

    return integrate.quad(integrand, -9, SHIFT + 9, points=sorted(breaks), limit=200)[0]


def limit_of_algorithm_a(share: float) -> tuple[float, float]:
    """E[ψ] = 0 and E[ψ²] = E[min(z², 1.5²)] with ψ clipped at 1.5."""
    beta = 2 * special.ndtr(1.5) - 1 - 3 * math.exp(-1.125) / math.sqrt(2 * math.pi) + 4.5 * special.ndtr(-1.5)

    def equations(at: np.ndarray) -> list[float]:
        mean, sd = at
        breaks = [mean - 1.5 * sd, mean + 1.5 * sd]
        return [over(share, lambda x: np.clip((x - mean) / sd, -1.5, 1.5), breaks),
                over(share, lambda x: np.clip((x - mean) / sd, -1.5, 1.5) ** 2, breaks) - beta]  # fmt: skip

    return tuple(optimize.fsolve(equations, [share * 3, 1 + 4 * share], xtol=1e-11))  # type: ignore[return-value]


def below(share: float, x: float) -> float:
    return (1 - share) * special.ndtr(x) + share * special.ndtr(x - SHIFT)


def limit_of_median_and_mad(share: float) -> tuple[float, float]:
    median = optimize.brentq(lambda x: below(share, x) - 0.5, -3, SHIFT + 3)
    mad = optimize.brentq(lambda d: below(share, median + d) - below(share, median - d) - 0.5, 1e-6, 9)
    return median, mad / special.ndtri(0.75)


def limit_of_q(share: float) -> float:
    """The quarter point of |X − Y|: differences are N(0, 2) or N(±5, 2)."""
    alike, crossed, root = (1 - share) ** 2 + share**2, 2 * share * (1 - share), math.sqrt(2)

    def at_most(t: float) -> float:
        near = 2 * special.ndtr(t / root) - 1
        return alike * near + crossed * (special.ndtr((t - SHIFT) / root) - special.ndtr((-t - SHIFT) / root))

    return optimize.brentq(lambda t: at_most(t) - 0.25, 1e-6, 9) / (root * special.ndtri(0.625))


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
def test_the_q_method_is_pulled_as_far_as_its_equation_says(share):
    found = robust.q_method(rounds(np.random.default_rng([SEED, 3]), share, sets=600))
    agrees(found.sd, limit_of_q(share))


def limit_of_hampels_mean(share: float) -> float:
    """E[ψ] = 0 with Hampel's three-part ψ and the spread of the Q method; the root nearest 0."""
    spread = limit_of_q(share)

    def equation(at: float) -> float:
        def psi(x: np.ndarray) -> np.ndarray:
            size = np.abs(x - at) / spread
            return np.sign(x - at) * np.clip(np.minimum(size, 4.5 - size), 0, 1.5)

        return over(share, psi, [at + k * spread for k in (-4.5, -3, -1.5, 1.5, 3, 4.5)])

    return optimize.brentq(equation, -0.5, 2.0)


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
