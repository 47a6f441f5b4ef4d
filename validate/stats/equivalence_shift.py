"""A shift that must not stay hidden, and what rules on a mean difference reject; see `equivalence`."""

from __future__ import annotations

import math
from dataclasses import dataclass

from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import number, vector, whole_number
from validate.stats.design_lots import shift_power
from validate.stats.intervals import number_of_freedom, t_probability, t_quantile


@dataclass(frozen=True)
class Shift:
    """A mean difference against a rejection limit that was fixed beforehand."""

    estimate: float
    low: float
    high: float
    level: float
    """Of the interval estimate ± t·s/√n: 1 − false_alarm."""
    t: float
    p_value: float
    n: int
    df: float
    se: float
    rejection_limit: float
    """|mean difference| above which the rule rejects."""
    false_alarm: float
    """Chance that the rule rejects when there is no shift."""
    critical_shift: float
    power: float
    """Chance that the rule rejects when the true shift is the critical one; 1 − power stays hidden."""


def shift_test(
    differences: ArrayLike, s: float, df: float, critical_shift: float, *, false_alarm: float = 0.05
) -> Shift:
    """Mean of a few paired differences against the rejection limit of a rule set up once.

    Limit t(1 − false_alarm/2, df)·s/√n; `s` is the standard deviation of one *difference*
    (√2·s_r for single results under repeatability), pooled from the validation and earlier
    lots on `df` degrees of freedom (infinite: known). `power` is the chance that a true shift
    of `critical_shift` is rejected; on logarithms give ln of the ratio. One pair is allowed.

    Raises ValueError for no difference, s or df that is not above 0, or a critical shift of 0.

    >>> found = shift_test([0.05, -0.02, 0.11, 0.04, 0.0, 0.06], 0.113, 30, 0.182)
    >>> round(found.rejection_limit, 4), round(found.power, 3), round(found.estimate, 3)
    (0.0942, 0.968, 0.04)
    """
    values = vector(differences, "difference")
    spread, freedom = number(s, "s", above=0), number_of_freedom(df)
    critical = number(critical_shift, "the critical shift")
    if critical == 0:
        raise ValueError("the critical shift must not be 0")
    power = shift_power(critical, spread, values.size, df=freedom, false_alarm=false_alarm)
    se, mean = spread / math.sqrt(values.size), float(values.mean())
    limit = t_quantile(1 - false_alarm / 2, freedom) * se
    return Shift(
        estimate=mean,
        low=mean - limit,
        high=mean + limit,
        level=1 - false_alarm,
        t=mean / se,
        p_value=2 * t_probability(-abs(mean / se), freedom),
        n=values.size,
        df=freedom,
        se=se,
        rejection_limit=limit,
        false_alarm=false_alarm,
        critical_shift=critical,
        power=power,
    )


def rejection_rate(limit: float, s: float, n: int, *, truth: float = 0.0) -> float:
    """Chance that the rule 'reject when |mean of n differences| > limit' rejects, for a true difference.

    1 − Φ((limit − truth)/u) + Φ((−limit − truth)/u), u = s/√n, `s` of one difference.

    The customary 'mean of five pairs within 10 %' at an RSD of 10 %: it rejects 11 % of
    unchanged lots and passes half of those that are off by 10 %.

    >>> import math
    >>> [round(rejection_rate(10, math.sqrt(2) * 10, 5, truth=true), 2) for true in (0, 10)]
    [0.11, 0.5]
    """
    bound, true = number(limit, "the limit", above=0), number(truth, "the true difference")
    u = number(s, "s", above=0) / math.sqrt(whole_number(n, "the number of pairs", at_least=1))
    return float(special.ndtr((true - bound) / u) + special.ndtr((-bound - true) / u))
