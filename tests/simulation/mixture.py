"""Rounds of sound laboratories, N(0, 1), and of a share of blunders, N(5, 1); what estimators tend to on them.

The limits follow from the estimators' defining equations, solved by quadrature and not by the code under test.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy import integrate, optimize, special

SEED = 20310303
SHIFT = 5.0
LABORATORIES, ROUNDS = 400, 3000
SHARES = (0.0, 0.1, 0.2, 0.3)


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


def limit_of_quartiles(share: float) -> tuple[float, float]:
    """The quarter and three-quarter points of the mixture."""
    first, third = (optimize.brentq(lambda x, p=p: below(share, x) - p, -9, SHIFT + 9) for p in (0.25, 0.75))
    return first, third


def limit_of_hampels_mean(share: float) -> float:
    """E[ψ] = 0 with Hampel's three-part ψ and the spread of the Q method; the root nearest 0."""
    spread = limit_of_q(share)

    def equation(at: float) -> float:
        def psi(x: np.ndarray) -> np.ndarray:
            size = np.abs(x - at) / spread
            return np.sign(x - at) * np.clip(np.minimum(size, 4.5 - size), 0, 1.5)

        return over(share, psi, [at + k * spread for k in (-4.5, -3, -1.5, 1.5, 3, 4.5)])

    return optimize.brentq(equation, -0.5, 2.0)
