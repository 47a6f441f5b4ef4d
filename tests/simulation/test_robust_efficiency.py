"""Simulation: how much robust estimators scatter from round to round, with 0 to 30 % blunders.

With many laboratories p·variance tends to the mean square of the estimator's influence function, here
within sound results and within blunders, as every round has the same number of both. The functions are
written down from the defining equations (F. R. Hampel and others, Robust Statistics, 1986, from memory) and
integrated on a grid; nothing of the code under test enters. Simulated rounds of 400 laboratories may differ
by 3 standard errors of a variance and 2 % for terms of order 1/p. Seed fixed before the first look.

Efficiency against the mean of the sound laboratories alone is (1/(1 − ε))/(p·variance) for a location.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import mpmath
import numpy as np
import pytest
from scipy import special

from tests.simulation.mixture import (
    LABORATORIES,
    SEED,
    SHARES,
    SHIFT,
    below,
    limit_of_algorithm_a,
    limit_of_hampels_mean,
    limit_of_median_and_mad,
    limit_of_q,
    limit_of_quartiles,
    rounds,
)
from validate.stats import robust
from validate.stats.proficiency import consensus_modes

SLOW_ROUNDS = 1000
"""Of estimators that take one round at a time."""
OF_ORDER_P = 0.02
GRID = np.linspace(-9.0, SHIFT + 9.0, 460_001)
Function = Callable[[np.ndarray], np.ndarray]

pytestmark = pytest.mark.slow


def normal(x: np.ndarray | float) -> np.ndarray:
    return np.exp(-0.5 * np.square(x)) / math.sqrt(2 * math.pi)


def density(share: float, x: np.ndarray | float) -> np.ndarray:
    return (1 - share) * normal(x) + share * normal(np.asarray(x) - SHIFT)


def mean_of(share: float, values: np.ndarray) -> float:
    return float(np.trapezoid(values * density(share, GRID), GRID))


def within(share: float, influence: np.ndarray) -> float:
    """Variance of the influence within sound results and within blunders."""
    groups = ((1 - share, normal(GRID)), (share, normal(GRID - SHIFT)))
    first = [(weight, np.trapezoid(influence * p, GRID), np.trapezoid(influence**2 * p, GRID)) for weight, p in groups]
    return float(sum(weight * (square - mean**2) for weight, mean, square in first))


def of_algorithm_a(share: float) -> tuple[np.ndarray, np.ndarray]:
    """Of x* and s*, from the two equations that they solve together."""
    mean, sd = limit_of_algorithm_a(share)
    u = (GRID - mean) / sd
    kept = np.abs(u) < 1.5
    psi = np.clip(u, -1.5, 1.5)
    slopes = np.array([[mean_of(share, kept * 1.0), mean_of(share, u * kept)],
                       [2 * mean_of(share, u * kept), 2 * mean_of(share, u**2 * kept)]]) / sd  # fmt: skip
    solved = np.linalg.solve(slopes, np.array([psi, psi**2 - mean_of(share, psi**2)]))
    return solved[0], solved[1]


def of_median_and_mad(share: float) -> tuple[np.ndarray, np.ndarray]:
    median, scaled = limit_of_median_and_mad(share)
    mad = scaled * special.ndtri(0.75)
    of_median = (0.5 - (median >= GRID)) / density(share, median)
    low, high = density(share, median - mad), density(share, median + mad)
    of_mad = (0.5 - (np.abs(GRID - median) <= mad) - (high - low) * of_median) / (high + low)
    return of_median, of_mad / special.ndtri(0.75)


def of_quartiles(share: float) -> np.ndarray:
    first, third = limit_of_quartiles(share)
    spread = (0.75 - (third >= GRID)) / density(share, third) - (0.25 - (first >= GRID)) / density(share, first)
    return spread / (2 * special.ndtri(0.75))


def of_q(share: float) -> np.ndarray:
    """Of Qn and of the Q method: the quarter point of |X − Y|."""
    factor = math.sqrt(2) * special.ndtri(0.625)
    point = limit_of_q(share) * factor
    near = below(share, GRID + point) - below(share, GRID - point)
    slope = mean_of(share, density(share, GRID + point) + density(share, GRID - point))
    return 2 * (0.25 - near) / slope / factor


def of_hampels_mean(share: float) -> np.ndarray:
    mean, sd = limit_of_hampels_mean(share), limit_of_q(share)
    u = (GRID - mean) / sd
    size = np.abs(u)
    psi = np.sign(u) * np.clip(np.minimum(size, 4.5 - size), 0, 1.5)
    slope = (size < 1.5) * 1.0 - ((size > 3) & (size < 4.5))
    return (sd * psi - mean_of(share, u * slope) * of_q(share)) / mean_of(share, slope)


def of_mode(share: float) -> np.ndarray:
    """Of the highest mode with bandwidth 0.75: the zero of the smoothed density's slope near 0."""
    h = 0.75
    width = math.sqrt(1 + h**2)
    at = 0.0
    for _ in range(60):
        parts = (1 - share) * normal(at / width), share * normal((at - SHIFT) / width)
        at = SHIFT * parts[1] / (parts[0] + parts[1])
    u = (GRID - at) / h
    bend = mean_of(share, normal(u) * (u**2 - 1)) / h
    return -normal(u) * u / bend


@pytest.fixture(scope="module", params=SHARES)
def share(request) -> float:
    return request.param


def scatters(found: np.ndarray, expected: float, share: float) -> None:
    """p·variance is that of the influence function."""
    allowed = 3 * math.sqrt(2 / len(found)) + OF_ORDER_P
    assert LABORATORIES * np.var(found, ddof=1) == pytest.approx(expected, rel=allowed), share


def test_algorithm_a_scatters_as_its_influence_function_says(share):
    found = robust.algorithm_a(rounds(np.random.default_rng([SEED, 21]), share))
    of_mean, of_sd = of_algorithm_a(share)
    scatters(found.mean, within(share, of_mean), share)
    scatters(found.sd, within(share, of_sd), share)


def test_median_and_mad_scatter_as_their_influence_functions_say(share):
    found = robust.median_mad(rounds(np.random.default_rng([SEED, 22]), share))
    of_median, of_mad = of_median_and_mad(share)
    scatters(found.mean, within(share, of_median), share)
    scatters(found.sd, within(share, of_mad), share)


def test_the_scaled_interquartile_range_scatters_as_its_influence_function_says(share):
    found = robust.scaled_iqr(rounds(np.random.default_rng([SEED, 23]), share))
    scatters(found.sd, within(share, of_quartiles(share)), share)


def test_q_method_and_hampels_mean_scatter_as_their_influence_functions_say(share):
    found = robust.q_method(rounds(np.random.default_rng([SEED, 24]), share, sets=SLOW_ROUNDS))
    scatters(found.sd, within(share, of_q(share)), share)
    scatters(found.mean, within(share, of_hampels_mean(share)), share)


def test_qn_scatters_as_its_influence_function_says(share):
    found = robust.qn(rounds(np.random.default_rng([SEED, 25]), share, sets=SLOW_ROUNDS))
    scatters(found, within(share, of_q(share)), share)


def test_the_highest_mode_scatters_as_its_influence_function_says(share):
    x = rounds(np.random.default_rng([SEED, 26]), share, sets=SLOW_ROUNDS)
    found = np.array([consensus_modes(row, 1.0, seed=1, resamples=1).modes[0].location for row in x])
    scatters(found, within(share, of_mode(share)), share)


def test_influence_functions_give_the_published_efficiencies_without_blunders():
    """Algorithm A 1/1.0371 (P. J. Huber), median 2/π, MAD 36.75 % (P. J. Rousseeuw, C. Croux, 1993; from memory)."""
    of_mean, of_median = of_algorithm_a(0.0)[0], of_median_and_mad(0.0)
    assert within(0.0, of_mean) == pytest.approx(1.0371, abs=5e-4)
    assert within(0.0, of_median[0]) == pytest.approx(math.pi / 2, rel=1e-3)
    assert 0.5 / within(0.0, of_median[1]) == pytest.approx(0.3675, abs=5e-4)


def test_the_efficiency_of_qn_is_its_integral_and_a_little_less_than_printed():
    """82.115 % by quadrature in double length; printed are 82.27 % (the same source, from memory).

    The printed constant 2.2219 in place of 2.21914 moves the integral to 82.112 %, so that it is not the
    cause; a coarser integration would be, which nobody can confirm. Simulation cannot tell the two apart.
    """
    point = 2 * mpmath.erfinv(mpmath.mpf(1) / 4)

    def over(function: Callable[[mpmath.mpf], mpmath.mpf]) -> mpmath.mpf:
        return mpmath.quad(lambda x: function(x) * mpmath.npdf(x), [-12, -3, 0, 3, 12])

    square = over(lambda x: (mpmath.ncdf(x + point) - mpmath.ncdf(x - point) - 0.25) ** 2)
    slope = over(lambda x: mpmath.npdf(x + point) + mpmath.npdf(x - point))
    efficiency = float(slope**2 * point**2 / (8 * square))
    assert efficiency == pytest.approx(0.82115, abs=5e-6)
    assert 0.5 / within(0.0, of_q(0.0)) == pytest.approx(efficiency, abs=1e-5)
