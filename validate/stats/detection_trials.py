"""Detected or not: limits of a proportion, and how many detections prove a claim."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from scipy import special

from validate.stats._input import confidence, number, whole_number
from validate.stats.intervals import Limits, t_quantile


@dataclass(frozen=True)
class Proportion:
    """`detected` of `n` with Clopper-Pearson limits; at level 0.90 each is a one-sided 95 % limit."""

    estimate: float
    detected: int
    n: int
    low: float
    high: float
    level: float
    rests_on: tuple[tuple[str, float], ...] = field(default=(), repr=False, compare=False)
    """`f_1` and `f_2`, the quantiles of F that give the limits; none where a limit is 0 or 1."""


def proportion(detected: int, n: int, *, level: float = 0.95) -> Proportion:
    """Proportion detected with exact (Clopper-Pearson) limits.

    low = B(α/2; x, n − x + 1), high = B(1 − α/2; x + 1, n − x), B(q; a, b) the beta quantile;
    low is 0 for x = 0, high is 1 for x = n. The same with F₁ = F(1 − α/2; 2(n − x + 1), 2x) and
    F₂ = F(1 − α/2; 2(x + 1), 2(n − x)): low = x/(x + (n − x + 1)·F₁), high = (x + 1)·F₂/(n − x + (x + 1)·F₂).

    Raises ValueError unless 0 ≤ detected ≤ n, n ≥ 1, whole numbers.

    Source: C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404-413 (from memory).

    >>> round(proportion(20, 20, level=0.90).low, 3)
    0.861
    """
    x, trials = counts(detected, n)
    tail = (1 - confidence(level)) / 2
    low = float(special.betaincinv(x, trials - x + 1, tail)) if x > 0 else 0.0
    high = float(special.betainccinv(x + 1, trials - x, tail)) if x < trials else 1.0
    f_1 = [("f_1", float(special.fdtri(2 * (trials - x + 1), 2 * x, 1 - tail)))] if x > 0 else []
    f_2 = [("f_2", float(special.fdtri(2 * (x + 1), 2 * (trials - x), 1 - tail)))] if x < trials else []
    return Proportion(x / trials, x, trials, low, high, level, (*f_1, *f_2))


def score_limits(detected: int, n: int, *, level: float = 0.95) -> Limits:
    """Limits of a proportion by the score test (Wilson): AOAC's form for a probability of detection.

    (x + z²/2 ± z·√(x − x²/n + z²/4))/(n + z²), z the normal quantile of (1 + level)/2. Shorter than the exact limits of
    `proportion`, and right on average over true proportions rather than for each of them.

    Raises ValueError unless 0 ≤ detected ≤ n, n ≥ 1, whole numbers.

    Source: E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212 (from memory); AOAC Appendix F (2012), table A7.

    >>> found = score_limits(14, 20)
    >>> round(100 * found.low, 1), round(100 * found.high, 1)
    (48.1, 85.5)
    """
    x, trials = counts(detected, n)
    z = t_quantile((1 + confidence(level)) / 2, math.inf)
    half = z * math.sqrt(x - x * x / trials + z * z / 4)
    low, high = ((x + z * z / 2 + sign * half) / (trials + z * z) for sign in (-1, 1))
    return Limits(0.0 if x == 0 else low, 1.0 if x == trials else high, level, "of a proportion (Wilson)")


def detections_needed(n: int, *, probability: float = 0.95, confidence_level: float = 0.95) -> int | None:
    """The fewest detections of n trials whose one-sided Clopper-Pearson lower limit reaches `probability`.

    None when not even n of n suffice. For 0.95 at 95 %: 59 of 59, 92 of 93, 122 of 124.

    >>> detections_needed(58), detections_needed(59), detections_needed(93), detections_needed(124)
    (None, 59, 92, 122)
    """
    trials, bound = counts(0, n)[1], confidence(probability)
    if _lower(trials, trials, confidence_level) < bound:
        return None
    low, high = 0, trials
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if _lower(middle, trials, confidence_level) >= bound else (middle, high)
    return high


def chance_of_detections(at_least: int, n: int, *, probability: float) -> float:
    """P(at least `at_least` of n trials detect) when each does with `probability`: what a rule is worth.

    >>> [round(chance_of_detections(19, 20, probability=p), 2) for p in (0.95, 0.9)]
    [0.74, 0.39]
    """
    x, trials = counts(at_least, n)
    p = number(probability, "the probability", not_below=0)
    if p > 1:
        raise ValueError(f"the probability must lie between 0 and 1, found {p!r}")
    return float(special.betainc(x, trials - x + 1, p)) if x > 0 else 1.0


def counts(detected: int, n: int) -> tuple[int, int]:
    """`detected` of `n`, checked."""
    trials = whole_number(n, "the number of trials", at_least=1)
    found = whole_number(detected, "the number detected", at_least=0)
    if found > trials:
        raise ValueError(f"{found} detected of {trials} trials found: at most {trials} is possible")
    return found, trials


def _lower(detected: int, n: int, confidence_level: float) -> float:
    return proportion(detected, n, level=2 * confidence(confidence_level) - 1).low if detected else 0.0
