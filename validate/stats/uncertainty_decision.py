"""A result against an upper limit: the decision by a named rule, and its risk.

All values are in one unit, after any correction for recovery, and unrounded.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import Floats, confidence, number, vector
from validate.stats.intervals import number_of_freedom, t_quantile

Rule = Literal["simple", "guard band", "beyond reasonable doubt"]
Uncertainty = float | Callable[[float], float]
"""One uncertainty for all levels, or a function of the level."""
SLACK = 1e-9
"""Part of the limit by which doubles may miss it: 4.1 + 0.9 counts as at most 5."""


@dataclass(frozen=True)
class Decision:
    """`decision` is "accept" or "reject".

    `acceptance_limit`: the highest accepted result. `probability_above`: that the true value
    exceeds the limit. `risk`: that this decision is wrong: `probability_above` of an
    accepted result, the rest of a rejected one. `worst_risk`: the risk of accepting a
    result at the acceptance limit. `doubtful`: the limit lies within value ± U.
    """

    decision: Literal["accept", "reject"]
    rule: Rule
    value: float
    U: float
    k: float
    limit: float
    acceptance_limit: float
    probability_above: float
    risk: float
    worst_risk: float
    doubtful: bool


def decision(
    value: float,
    U: Uncertainty,
    limit: float,
    *,
    rule: Rule,
    k: float = 2,
    df: float = math.inf,
) -> Decision:
    """Decide about `value` ± `U` against the upper `limit` L.

    | rule | accept when | acceptance limit for constant U |
    |---|---|---|
    | `simple` | x ≤ L | L |
    | `guard band` | x + U ≤ L | L − U |
    | `beyond reasonable doubt` | x − U ≤ L (reject only when x − U > L) | L + U |

    Probability that the true value is above: 1 − Φ((L − x)/u), u = U/k, prior knowledge
    none; Student's t with `df` when given. `U`: a number, or a function of the level that
    gives U there (`acceptance_limit` is then the result at which the rule turns).

    Raises ValueError for U < 0, k ≤ 0, df ≤ 0, an unknown rule.

    Source: JCGM 106:2012 7 and 8; the third rule: Regulation (EC) No 401/2006 Annex I D.2
    (clauses from memory).

    >>> found = decision(4.2, 0.8, 5.0, rule="guard band")
    >>> found.decision, round(found.risk, 4), round(found.worst_risk, 4)
    ('accept', 0.0228, 0.0228)
    >>> decision(5.7, 0.8, 5.0, rule="beyond reasonable doubt").decision
    'accept'
    """
    x, bound, factor = number(value, "the value"), number(limit, "the limit"), number(k, "k", above=0)
    whole = _at(U, x)
    turning = acceptance_limit(bound, U, rule=rule)
    accepted = x + _shift(rule) * whole <= bound + SLACK * abs(bound)
    above = _above(bound, x, whole / factor, df)
    return Decision(
        decision="accept" if accepted else "reject",
        rule=rule,
        value=x,
        U=whole,
        k=factor,
        limit=bound,
        acceptance_limit=turning,
        probability_above=above,
        risk=above if accepted else 1 - above,
        worst_risk=_above(bound, turning, _at(U, turning) / factor, df),
        doubtful=abs(x - bound) < whole,
    )


def acceptance_limit(limit: float, U: Uncertainty, *, rule: Rule) -> float:
    """The highest result that `rule` accepts: the x with x + shift·U(x) = limit, shift 0, 1 or −1.

    Raises ValueError for an unknown rule, U < 0, a limit that is not above 0 for a U that
    depends on the level, or a U(x) that grows so fast that every result would be accepted.

    >>> acceptance_limit(5.0, 0.8, rule="guard band")
    4.2
    >>> round(acceptance_limit(5.0, lambda x: 0.25 * x, rule="guard band"), 6)
    4.0
    """
    bound, shift = number(limit, "the limit"), _shift(rule)
    if shift == 0:
        return bound
    if not callable(U):
        return bound - shift * _at(U, bound)

    def excess(x: float) -> float:
        return x + shift * _at(U, x) - bound

    if bound <= 0:
        raise ValueError("an uncertainty that depends on the level needs a limit above 0")
    low, high = (0.0, bound) if shift > 0 else (bound, 2 * bound)
    if shift > 0 and excess(low) > 0:
        raise ValueError(f"U at level 0 ({_at(U, 0.0):g}) exceeds the limit {bound:g}: no result could be accepted")
    while excess(high) < 0:
        high *= 2
        if high > 1e6 * bound:
            raise ValueError("U grows as fast as the result: every result would be accepted")
    from scipy.optimize import brentq

    return float(brentq(excess, low, high, xtol=1e-12 * bound, rtol=1e-12))


def guard_band(u: float, *, risk: float = 0.05, df: float = math.inf) -> float:
    """The guard that keeps the risk of a wrong acceptance at `risk`: z(1 − risk)·u, or t with `df`.

    Raises ValueError for u < 0 or a risk outside 0 to 1.

    >>> round(guard_band(1.0), 4)
    1.6449
    """
    return t_quantile(1 - confidence(risk), number_of_freedom(df)) * number(u, "u", not_below=0)


@dataclass(frozen=True)
class RiskCurve:
    """P(true value above the limit) at each result; `acceptance_limit` by the rule. Tuples of one length."""

    results: tuple[float, ...]
    probability_above: tuple[float, ...]
    limit: float
    acceptance_limit: float
    rule: Rule


def risk_curve(
    limit: float, U: Uncertainty, *, rule: Rule, results: ArrayLike | None = None, k: float = 2, df: float = math.inf
) -> RiskCurve:
    """The probability that the true value exceeds the limit, against the result found.

    `results`: where to compute; by default 121 equal steps over limit ± 1.5·U(limit).
    Arguments and errors otherwise as `decision`.

    >>> curve = risk_curve(5.0, 0.8, rule="simple", results=[4.2, 5.0])
    >>> [round(p, 4) for p in curve.probability_above]
    [0.0228, 0.5]
    """
    bound, factor = number(limit, "the limit"), number(k, "k", above=0)
    reach = 1.5 * _at(U, bound)
    places: Floats = np.linspace(bound - reach, bound + reach, 121) if results is None else vector(results, "result")
    if results is None and callable(U):
        places = places[places >= 0]
    chances = [_above(bound, x, _at(U, x) / factor, df) for x in places.tolist()]
    return RiskCurve(tuple(places.tolist()), tuple(chances), bound, acceptance_limit(bound, U, rule=rule), rule)


def _shift(rule: Rule) -> int:
    if rule not in get_args(Rule):
        raise ValueError(f"unknown rule {rule!r}; one of {', '.join(get_args(Rule))} is needed")
    return {"simple": 0, "guard band": 1, "beyond reasonable doubt": -1}[rule]


def _at(U: Uncertainty, x: float) -> float:
    return number(U(x) if callable(U) else U, "U", not_below=0)


def _above(limit: float, x: float, u: float, df: float) -> float:
    """P(true > limit); for u = 0 the plain comparison."""
    if u == 0:
        return float(x > limit)
    freedom, distance = number_of_freedom(df), (x - limit) / u
    return float(special.ndtr(distance) if math.isinf(freedom) else special.stdtr(freedom, distance))
