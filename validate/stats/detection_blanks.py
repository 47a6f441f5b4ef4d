"""Critical and detection limits from blanks, and the method detection limit from spikes.

All is worked out net of the mean blank first; gross signals and amounts follow. A critical
value says when a signal is more than a blank; a detection limit what amount exceeds it
with probability 1 − beta. The two are not interchangeable, nor are rules with other errors.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import count, number, vector, whole_number
from validate.stats._sums import squared_deviations
from validate.stats.intervals import chi2_quantile, t_quantile

FEWEST_FOR_METHOD_DETECTION_LIMIT = 7
MDL_CONFIDENCE = 0.99


@dataclass(frozen=True)
class BlankLimits:
    """Limits from `n` blanks of one kind, in signals (gross, net) and in amounts.

    `sd`, `mean`: of the blanks. `delta`: noncentrality that makes both errors hold;
    `t`: quantile of the critical value. `twice_t` is the amount that the customary 2·t
    instead of delta would give (larger: 5.6 % at 3 df, 1.3 % at 19). `three_sd` and
    `three_point_three_sd` are the shortcuts 3·s and 3.3·s over the slope, net of the blank.
    `detection_upper`: one-sided 95 % upper limit of `detection_concentration`, because s
    itself is an estimate.
    """

    critical_gross: float
    critical_net: float
    detection_gross: float
    detection_net: float
    critical_concentration: float
    detection_concentration: float
    detection_upper: float
    twice_t: float
    three_sd: float
    three_point_three_sd: float
    mean: float
    sd: float
    n: int
    m: int
    df: int
    t: float
    delta: float
    slope: float
    alpha: float
    beta: float


def from_blanks(
    blanks: ArrayLike, *, slope: float = 1, m: int = 1, alpha: float = 0.05, beta: float = 0.05
) -> BlankLimits:
    """Critical value and detection limit from the scatter of n blanks, for m replicates of a sample.

    With s the standard deviation of the blanks and ν = n − 1:

        S_C = t(1 − alpha; ν)·s·√(1/m + 1/n),   y_C = mean + S_C,   x_C = S_C/|slope|
        S_D = δ(ν; alpha, beta)·s·√(1/m + 1/n),   y_D = mean + S_D,   x_D = S_D/|slope|
        upper 95 % limit of x_D = x_D·√(ν/χ²(0.05; ν))

    `blanks`: independent results of blank samples through the whole procedure, unclipped
    (see `unusable_blanks`); 10 or more over 3 days or more are customary. `slope`: signal
    per amount, 1 when the blanks are in units of amount already. Assumes that a sample near
    the limit scatters as a blank does.

    Raises ValueError for fewer than 2 blanks, blanks that are all equal, a slope of 0,
    m < 1, an error outside 0.001 to 0.5.

    Source: ISO 11843-1, IUPAC (L. A. Currie, Pure Appl. Chem. 67 (1995) 1699-1723) (both from memory).

    >>> found = from_blanks([0.1, 0.3, 0.2, 0.2, 0.4, 0.1, 0.3, 0.2, 0.1, 0.3])
    >>> round(found.critical_net, 4), round(found.detection_net, 4), round(found.detection_upper, 4), found.df
    (0.1986, 0.3873, 0.6372, 9)
    """
    x = vector(blanks, "blank", at_least=2)
    replicates, sensitivity = whole_number(m, "m", at_least=1), abs(number(slope, "the slope"))
    if sensitivity == 0:
        raise ValueError("the slope is 0: no amount belongs to a signal")
    mean, squares = squared_deviations(x)
    df = len(x) - 1
    sd = math.sqrt(squares / df)
    if sd == 0:
        raise ValueError(f"all {len(x)} blanks are equal: measure samples at 1 to 3 times the expected limit instead")
    t, delta = t_quantile(1 - error(alpha, "alpha"), df), noncentrality(df, alpha=alpha, beta=beta)
    unit = sd * math.sqrt(1 / replicates + 1 / len(x))
    detection = delta * unit / sensitivity
    return BlankLimits(
        critical_gross=mean + t * unit,
        critical_net=t * unit,
        detection_gross=mean + delta * unit,
        detection_net=delta * unit,
        critical_concentration=t * unit / sensitivity,
        detection_concentration=detection,
        detection_upper=detection * math.sqrt(df / chi2_quantile(0.05, df)),
        twice_t=2 * t * unit / sensitivity,
        three_sd=3 * sd / sensitivity,
        three_point_three_sd=3.3 * sd / sensitivity,
        mean=mean,
        sd=sd,
        n=len(x),
        m=replicates,
        df=df,
        t=t,
        delta=delta,
        slope=float(slope),
        alpha=alpha,
        beta=beta,
    )


def noncentrality(df: float, *, alpha: float = 0.05, beta: float = 0.05) -> float:
    """δ(ν; alpha, beta): P(T′(ν, δ) ≤ t(1 − alpha; ν)) = beta, T′ noncentral t.

    `df` may be infinite: z(1 − alpha) + z(1 − beta) then. Raises ValueError for df below 1
    or an error outside 0.001 to 0.5.

    Source: ISO 11843-2:2000, 5.3 (from memory).

    >>> [round(noncentrality(df), 4) for df in (3, 9, 19, math.inf)]
    [4.4564, 3.5754, 3.415, 3.2897]
    """
    level, low = 1 - error(alpha, "alpha"), error(beta, "beta")
    if math.isinf(df):
        return t_quantile(level, df) + float(special.ndtri(1 - low))
    return _noncentrality(number(df, "df", not_below=1), level, low)


@lru_cache(maxsize=512)
def _noncentrality(df: float, level: float, low: float) -> float:
    from scipy.optimize import brentq

    t = t_quantile(level, df)
    high = 1.0
    while special.nctdtr(df, high, t) > low:  # far beyond the root the function gives no number
        high += 1 + 0.25 * high
    return float(brentq(lambda delta: special.nctdtr(df, delta, t) - low, 0.0, high, xtol=1e-12))


def unusable_blanks(blanks: ArrayLike, *, resolution: float | None = None, floor: float | None = None) -> str | None:
    """Why these blanks can give no detection limit, or None.

    Readings at the floor of the instrument have lost their scatter downwards; readings
    whose standard deviation is below half a step have lost it to rounding. Either way s is
    wrong in the direction that flatters the method. All in the unit of the blanks.

    Source: common practice, no source.

    >>> unusable_blanks([0, 0, 1, 0, 0], floor=0)
    '4 of 5 blanks read the floor (0): measure samples at 1 to 3 times the expected limit instead'
    """
    x = vector(blanks, "blank", at_least=2)
    advice = "measure samples at 1 to 3 times the expected limit instead"
    if floor is not None and (clipped := int(np.count_nonzero(x <= floor))):
        verb = "reads" if clipped == 1 else "read"
        return f"{clipped} of {count(len(x), 'blank')} {verb} the floor ({floor:g}): {advice}"
    sd = math.sqrt(squared_deviations(x)[1] / (len(x) - 1))
    if sd == 0:
        return f"all {len(x)} blanks are equal: {advice}"
    if resolution is not None and sd < 0.5 * number(resolution, "the resolution", above=0):
        return f"the blanks scatter less than half a step of the reading ({resolution:g}): {advice}"
    return None


@dataclass(frozen=True)
class MethodDetectionLimit:
    """`mdl` is the larger of `mdl_spiked` and `mdl_blank`; `blank_rule` says how the latter was found.

    `highest_percentile` is the 99th percentile of more than 100 blanks, which the rule
    allows as `mdl_blank` instead; else None.
    """

    mdl: float
    mdl_spiked: float
    mdl_blank: float | None
    n_spiked: int
    n_blanks: int
    t_spiked: float
    sd_spiked: float
    blank_rule: str
    highest_percentile: float | None = None


def method_detection_limit(spiked: ArrayLike, blanks: Iterable[float | None] | None = None) -> MethodDetectionLimit:
    """Method detection limit from low spikes and blanks: alpha 1 %, no beta.

        MDL_s = t(0.99; n − 1)·s(spiked)
        MDL_b = max(0, mean) + t(0.99; n − 1)·s(blanks)     all blanks with a number
              = the highest blank                            only some with a number
              = none                                         none with a number

    `spiked`: 7 results or more, all with a number, over 3 batches or more; `blanks`: None
    for a blank without a numerical result. Not comparable with a detection limit that
    bounds both errors.

    Raises ValueError for fewer than 7 spiked results or blanks, a spiked result without a number.

    Source: 40 CFR Part 136 Appendix B, Revision 2 (formulas and the rule for more than 100
    blanks from memory).

    >>> found = method_detection_limit([2.23, 2.05, 2.09, 2.2, 2.13, 2.18, 2.27, 2.09])
    >>> round(found.t_spiked, 3), round(found.mdl, 4), found.mdl_blank
    (2.998, 0.2311, None)
    """
    x = vector(spiked, "spiked result", at_least=FEWEST_FOR_METHOD_DETECTION_LIMIT)
    t = t_quantile(MDL_CONFIDENCE, len(x) - 1)
    sd = math.sqrt(squared_deviations(x)[1] / (len(x) - 1))
    given = [] if blanks is None else list(blanks)
    blank, rule, percentile = _from_blank_results(given)
    return MethodDetectionLimit(
        mdl=max(t * sd, blank if blank is not None else -math.inf),
        mdl_spiked=t * sd,
        mdl_blank=blank,
        n_spiked=len(x),
        n_blanks=len(given),
        t_spiked=t,
        sd_spiked=sd,
        blank_rule=rule,
        highest_percentile=percentile,
    )


def _from_blank_results(given: list[float | None]) -> tuple[float | None, str, float | None]:
    if not given:
        return None, "no blanks", None
    if len(given) < FEWEST_FOR_METHOD_DETECTION_LIMIT:
        raise ValueError(f"{count(len(given), 'blank')} found, at least {FEWEST_FOR_METHOD_DETECTION_LIMIT} needed")
    numerical = vector([v for v in given if v is not None], "blank", at_least=0)
    if len(numerical) == 0:
        return None, "no blank gave a number", None
    percentile = float(np.percentile(numerical, 99)) if len(numerical) == len(given) > 100 else None
    if len(numerical) < len(given):
        return float(np.max(numerical)), "highest blank: not every blank gave a number", None
    mean, squares = squared_deviations(numerical)
    t = t_quantile(MDL_CONFIDENCE, len(numerical) - 1)
    spread = math.sqrt(squares / (len(numerical) - 1))
    return max(0.0, mean) + t * spread, "mean (0 if negative) + t·s of the blanks", percentile


def error(probability: float, what: str) -> float:
    """An error probability from 0.001 to 0.5."""
    value = number(probability, what)
    if not 0.001 <= value <= 0.5:
        raise ValueError(f"{what} must lie between 0.001 and 0.5, found {value!r}")
    return value
