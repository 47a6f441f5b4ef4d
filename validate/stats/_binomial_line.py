"""Maximum likelihood for detected-or-not results whose probability is link⁻¹(offset + β·x)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy import special

from validate.stats._input import Floats

ROUNDS = 200
FARTHEST = 500.0
"""Beyond this linear predictor every probability is 0 or 1 in doubles."""


class Logs(NamedTuple):
    """log p, log(1 − p) and their derivatives at a linear predictor."""

    hit: Floats
    miss: Floats
    hit_slope: Floats
    miss_slope: Floats


def _logit(eta: Floats) -> Logs:
    return Logs(special.log_expit(eta), special.log_expit(-eta), special.expit(-eta), -special.expit(eta))


def _probit(eta: Floats) -> Logs:
    hit, miss = special.log_ndtr(eta), special.log_ndtr(-eta)
    density = -0.5 * eta * eta - 0.5 * np.log(2 * np.pi)
    return Logs(hit, miss, np.exp(density - hit), -np.exp(density - miss))


def _cloglog(eta: Floats) -> Logs:
    rate = np.exp(eta)
    detected = -np.expm1(-rate)
    return Logs(np.log(detected), -rate, rate * np.exp(-rate) / detected, -rate)


LINKS: dict[str, Callable[[Floats], Logs]] = {"logit": _logit, "probit": _probit, "cloglog": _cloglog}

LINEAR: dict[str, Callable[[float], float]] = {
    "logit": lambda p: float(special.logit(p)),
    "probit": lambda p: float(special.ndtri(p)),
    "cloglog": lambda p: float(np.log(-np.log1p(-p))),
}
"""The linear predictor that gives a probability."""


@dataclass(frozen=True)
class Fit:
    """Coefficients, log likelihood (without binomial coefficients) and the information matrix."""

    coefficients: Floats
    log_likelihood: float
    information: Floats


@dataclass(frozen=True)
class Trials:
    """`detected` of `n` at each row, under a link."""

    detected: Floats
    n: Floats
    link: str

    def logs(self, eta: Floats) -> Logs:
        return LINKS[self.link](np.clip(eta, -FARTHEST, FARTHEST))

    def log_likelihood(self, eta: Floats) -> float:
        logs = self.logs(eta)
        return float(np.sum(_times(self.detected, logs.hit) + _times(self.n - self.detected, logs.miss)))

    def fit(self, design: Floats, offset: Floats, start: Floats) -> Fit:
        """Fisher scoring with halved steps; the log likelihoods of these links are concave.

        Near the maximum they are flat to rounding, where the step decides.
        """
        beta = start
        found = self.log_likelihood(offset + design @ beta)
        for _ in range(ROUNDS):
            gradient, information = self._slopes(design, offset + design @ beta)
            step = np.linalg.lstsq(information, gradient, rcond=None)[0]
            flat = 1e-14 * (1 + abs(found))
            for _ in range(60):
                value = self.log_likelihood(offset + design @ (beta + step))
                if value >= found - flat:
                    break
                step = step / 2
            beta, found = beta + step, value
            if np.all(np.abs(step) <= 1e-13 * (1 + np.abs(beta))):
                break
        return Fit(beta, found, self._slopes(design, offset + design @ beta)[1])

    def _slopes(self, design: Floats, eta: Floats) -> tuple[Floats, Floats]:
        logs = self.logs(eta)
        score = self.detected * logs.hit_slope + (self.n - self.detected) * logs.miss_slope
        weight = self.n * logs.hit_slope * -logs.miss_slope
        return design.T @ score, design.T @ (weight[:, None] * design)

    def deviance(self, eta: Floats) -> float:
        share = self.detected / self.n
        missed = self.n - self.detected
        whole = float(np.sum(special.xlogy(self.detected, share) + special.xlogy(missed, 1 - share)))
        return max(0.0, 2 * (whole - self.log_likelihood(eta)))


def _times(count: Floats, log: Floats) -> Floats:
    """count·log with 0·(−∞) = 0."""
    return np.where(count > 0, count * log, 0.0)
