"""How often a rule that suspects would suspect somebody in a round in which nothing is wrong.

A round of n sound laboratories: results independent and normal about x_pt with the standard deviation
σ_pt. Each rule speaks only where the chance that it speaks of anybody in such a round, for one target
(or one pair of samples), is at most FALSE_ALARM. Bonferroni: n times the chance for one laboratory.
Laboratories that scatter more than σ_pt allows give more alarms; a suspicion stays a question.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from scipy.special import bdtrc, ndtr

FALSE_ALARM = 0.01
ACTION, ACCEPTABLE = 3.0, 2.0
STEP = 0.2
"""Rounding, as a share of the spread, that costs nothing: it widens s by a factor of √(1 + 0.2²/12) = 1.0017."""


def chance_of_factor(factor: float, relative_sigma: float) -> float:
    """Chance that a sound result gives an action signal and is acceptable once multiplied by `factor`.

    With z = (x − x_pt)/σ_pt and r = σ_pt/x_pt, |x·f − x_pt| ≤ 2σ_pt means z between ((1 − 2r)/f − 1)/r and
    ((1 + 2r)/f − 1)/r; of that the part with |z| ≥ 3 counts.

    >>> chance_of_factor(10, 0.15) < 1e-8, chance_of_factor(0.1, 0.45) > 1e-3
    (True, True)
    """
    r = relative_sigma
    low, high = (((1 + side * ACCEPTABLE * r) / factor - 1) / r for side in (-1, 1))
    return _between(max(low, ACTION), high) + _between(low, min(high, -ACTION))


def chance_of_exchange(apart: float, sigma_ratio: float) -> float:
    """Chance that a sound laboratory looks as if it had exchanged two samples.

    `apart` is |x_pt1 − x_pt2|/σ_pt1 and `sigma_ratio` σ_pt2/σ_pt1. Either result gives an action signal,
    and neither would if the two had changed places: result 1 lies within 3σ_pt2 of x_pt2 and result 2
    within 3σ_pt1 of x_pt1. With a = chance of the first, a′ of the first beyond its action limit, b and
    b′ likewise for the second, the chance is a′·b + a·b′ − a′·b′.

    >>> chance_of_exchange(3, 1) > 1e-3 > chance_of_exchange(5, 1)
    True
    """
    first = (apart - ACTION * sigma_ratio, apart + ACTION * sigma_ratio)
    second = ((apart - ACTION) / sigma_ratio, (apart + ACTION) / sigma_ratio)
    a, b = (_between(*ends) for ends in (first, second))
    a_out, b_out = (_between(max(low, ACTION), high) + _between(low, min(high, -ACTION))
                    for low, high in (first, second))  # fmt: skip
    return a_out * b + a * b_out - a_out * b_out


@lru_cache(maxsize=256)
def most_alike(n: int) -> int:
    """Largest number of n sound results that may be the same value, rounded to a fifth of their spread.

    The smallest m with Σ P(Bin(n, p) > m) ≤ FALSE_ALARM over the cells of the normal law: the chance
    that more than m fall into any one cell. The grid of the cells has one at the centre, the worst case.

    >>> [most_alike(n) for n in (8, 20, 34, 100)]
    [4, 6, 8, 16]
    """
    edges = (np.arange(-40, 42) - 0.5) * STEP
    p = np.diff(ndtr(edges))
    return next(m for m in range(n + 1) if math.fsum(bdtrc(m, n, p)) <= FALSE_ALARM)


def rarely(n: int, chance: float, rules: int = 1) -> bool:
    """Whether a rule with this chance for one sound laboratory speaks in at most 1 % of sound rounds of n."""
    return n * rules * chance <= FALSE_ALARM


def _between(low: float, high: float) -> float:
    return max(0.0, float(ndtr(high) - ndtr(low))) if low < 0 else max(0.0, float(ndtr(-low) - ndtr(-high)))
