"""How many pairs: sample sizes for comparing a new lot with the current one.

A pair is one sample measured with both; `s` is throughout the standard deviation of one
*difference*. With one result each under repeatability it is √2·s_r. Ratios are planned as
differences of logarithms: margins ln(low) and ln(high), and s = √2·RSD_r/100, close enough
up to an RSD of 20 %.
"""

from __future__ import annotations

import math

from scipy import special

from validate.stats._input import number, whole_number
from validate.stats._passing import Size, mean_interval_inside, smallest
from validate.stats.intervals import number_of_freedom, t_quantile

Margin = float | tuple[float, float]


def pairs_for_equivalence(
    margin: Margin, s: float, *, truth: float = 0.0, power: float = 0.8, alpha: float = 0.05
) -> Size:
    """Pairs that show a mean difference to lie inside its margin, by two one-sided tests.

    Smallest n with P(low ≤ d̄ − t·s_d/√n and d̄ + t·s_d/√n ≤ high) ≥ power, exact over the
    scatter of s_d: for a symmetric margin and no true difference, r = margin/s,
    ∫₀^(r√n/t) [2Φ(r√n − t·u) − 1] f_s(u) du. `margin`: half-width, or (low, high) around 0;
    `truth`: true mean difference, inside the margin (plan for margin/3 too).

    Raises ValueError for a margin that is not above 0 or does not enclose 0, a truth outside
    it, s that is not above 0, or more than 100,000 pairs.

    >>> [pairs_for_equivalence(margin, 1).n for margin in (0.5, 1, 2)]
    [36, 11, 4]

    RSD_r 10 %, margin a factor of 1.15 either way:

    >>> import math
    >>> pairs_for_equivalence(math.log(1.15), math.sqrt(2) * 0.10).n
    11
    """
    low, high = margin_of_difference(margin)
    spread, true = number(s, "s", above=0), number(truth, "the true difference")
    if not low < true < high:
        raise ValueError(f"the true difference {true!r} lies outside the margin {low!r} to {high!r}")

    def reached(n: int) -> float:
        return mean_interval_inside(true, low, high, spread / math.sqrt(n), n - 1, alpha)

    n = smallest(reached, power, 2)
    return Size(n, reached(n), n - 1)


def pairs_for_shift(
    shift: float, s: float, *, df: float = math.inf, power: float = 0.8, false_alarm: float = 0.05
) -> Size:
    """Pairs at which a mean shift of `shift` is found with the wanted power.

    The rule rejects when |d̄| > t(1 − false_alarm/2, df)·s/√n, with `s` pooled beforehand on
    `df` degrees of freedom (infinite: known). Both tails count. `df` of the result is
    that of s, or 0 when it is known.

    Raises ValueError for a shift or s that is not above 0, or more than 100,000 pairs.

    RSD_r 10 %, a shift of 20 % upwards (downwards the logarithm is larger):

    >>> import math
    >>> pairs_for_shift(math.log(1.20), math.sqrt(2) * 0.10).n
    5
    """
    size, spread = number(abs(shift), "the shift", above=0), number(s, "s", above=0)

    def reached(n: int) -> float:
        return shift_power(size, spread, n, df=df, false_alarm=false_alarm)

    n = smallest(reached, power, 1)
    return Size(n, reached(n), 0 if math.isinf(df) else int(df))


def shift_power(shift: float, s: float, n: int, *, df: float = math.inf, false_alarm: float = 0.05) -> float:
    """Chance that the rule of `pairs_for_shift` rejects when the true mean difference is `shift`.

    P(|T′| > t(1 − false_alarm/2, df)), T′ noncentral t with shift·√n/s; normal for infinite df.

    >>> round(shift_power(0, 1, 5), 3)
    0.05
    """
    delta = number(shift, "the shift") * math.sqrt(whole_number(n, "the number of pairs", at_least=1))
    delta /= number(s, "s", above=0)
    if not 0 < number(false_alarm, "the rate of false alarms") < 1:
        raise ValueError(f"the rate of false alarms must lie between 0 and 1, found {false_alarm!r}")
    critical = t_quantile(1 - false_alarm / 2, number_of_freedom(df))
    if math.isinf(df):
        return float(special.ndtr(delta - critical) + special.ndtr(-delta - critical))
    return 1 - float(special.nctdtr(df, delta, critical) - special.nctdtr(df, delta, -critical))


def margin_of_difference(margin: Margin) -> tuple[float, float]:
    """(low, high) around 0; one number stands for both sides. ValueError otherwise."""
    if isinstance(margin, (tuple, list)):
        if len(margin) != 2:
            raise ValueError(f"a margin has two ends, found {len(margin)}")
        low, high = (number(end, "an end of the margin") for end in margin)
        if not low < 0 < high:
            raise ValueError(f"the margin must enclose 0, found {low!r} to {high!r}")
        return low, high
    half = number(margin, "the margin", above=0)
    return -half, half
