"""Screening: the reading that sorts samples at a target level, and how often it sorts them wrongly.

| question | function |
|---|---|
| above which reading is a sample suspect? | `cut_off` |
| how often does that cut-off miss a sample at the target level? | `false_negative_rate` |
| how often is a sample without the analyte suspect? | `false_suspect_rate` |
| how many were found, how many missed, as counted? | `rates` |

The probability of detection over the level is `detection.probability_of_detection`, agreement
with a reference method `comparison.classification`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import Floats, confidence, number, vector, whole_number
from validate.stats._sums import squared_deviations
from validate.stats.detection_trials import Proportion, counts, proportion
from validate.stats.intervals import chi2_quantile, t_probability, t_quantile

Direction = Literal["proportional", "inverse"]
FEWEST = 3
"""Readings without which a standard deviation says next to nothing."""
FAR = 40.0
"""Beyond so many standard deviations the scatter of the mean no longer counts beside that of s."""
MISSED = 0.05
"""Share of samples at the target level that the cut-off is meant to miss."""


@dataclass(frozen=True)
class CutOff:
    """The cut-off `value` from `n` readings at the target level; `low`, `high` at confidence `level`.

    The limits are for μ − t·σ (inverse response: μ + t·σ), the cut-off that the true mean and
    standard deviation would give with the same factor `t`.
    """

    value: float
    low: float
    high: float
    level: float
    direction: Direction
    n: int
    mean: float
    sd: float
    df: int
    t: float

    def is_suspect(self, reading: float) -> bool:
        """Whether a reading lies beyond the cut-off, on the side of a sample with the analyte."""
        return reading > self.value if self.direction == "proportional" else reading < self.value


@dataclass(frozen=True)
class Rate:
    """A share of samples, 0 to 1, with limits at confidence `level`.

    `t`: distance of the cut-off from the mean, in standard deviations; positive when the mean
    lies on the side where the rate is below one half.
    """

    estimate: float
    low: float
    high: float
    level: float
    t: float
    df: int


@dataclass(frozen=True)
class Rates:
    """Shares of `n` samples with exact limits.

    At the target level and above, `missed` is the false-negative rate; in samples without the
    analyte `detected` is the false-positive rate.
    """

    detected: Proportion
    missed: Proportion


def cut_off(target_results: ArrayLike, *, direction: Direction, level: float = 0.95) -> CutOff:
    """The reading that samples at the target level pass with a chance of about 95 %.

        proportional response   cut-off = x̄ − t(0.95; n − 1)·s
        inverse response        cut-off = x̄ + t(0.95; n − 1)·s

    `target_results`: readings (contents or signals, any unit) of n ≥ 3 samples at the screening
    target concentration, under intermediate precision: different days, analysts, lots.
    Assumes normal scatter of independent readings. The formula leaves out √(1 + 1/n), so that
    on average more than 5 % are missed: see `false_negative_rate`. Limits are exact: x̄ minus
    (inverse response: plus) q·s/√n, q the quantiles (1 ± level)/2 of the noncentral t on n − 1 and t·√n.

    Raises ValueError for fewer than 3 readings, a missing one, readings that are all equal, an
    unknown direction.

    Source: Implementing Regulation (EU) 2023/2782, Annex II, 4.2.2; the limits are an own addition.

    >>> import numpy as np
    >>> x = np.arange(20.0)
    >>> x = 5 + 0.8 * (x - x.mean()) / x.std(ddof=1)    # constructed: mean 5, SD 0.8, n = 20
    >>> found = cut_off(x, direction="proportional")
    >>> round(found.t, 3), round(found.value, 4)
    (1.729, 3.6167)
    """
    sign = _sign(direction)
    values = vector(target_results, "reading", at_least=FEWEST)
    mean, sd = _mean_and_sd(values, "readings at the target level")
    n, df = len(values), len(values) - 1
    t = t_quantile(1 - MISSED, df)
    tail = (1 - confidence(level)) / 2
    quantiles = (float(special.nctdtrit(df, t * math.sqrt(n), p)) for p in (tail, 1 - tail))
    ends = sorted(mean - sign * q * sd / math.sqrt(n) for q in quantiles)
    return CutOff(mean - sign * t * sd, ends[0], ends[1], level, direction, n, mean, sd, df, t)


def false_negative_rate(n: int, *, level: float = 0.95) -> Rate:
    """Share of samples at the target level that a `cut_off` from n readings misses.

    `estimate`: P(T ≤ −t/√(1 + 1/n)), T Student's t with n − 1 degrees of freedom, t = t(0.95;
    n − 1): the mean over many such cut-offs, 5.7 % at n = 10, 5.4 % at 20, 5.2 % at 40. `low`,
    `high`: between them lies the rate of one cut-off in `level` of all studies. They depend on n
    alone; normal scatter is assumed, and that later samples scatter as those of the study did.

    Raises ValueError for n below 3.

    >>> [round(100 * false_negative_rate(n).estimate, 1) for n in (10, 20, 40)]
    [5.7, 5.4, 5.2]
    """
    size = whole_number(n, "the number of readings", at_least=FEWEST)
    t = t_quantile(1 - MISSED, size - 1)
    estimate = t_probability(-t / math.sqrt(1 + 1 / size), size - 1)
    near, far = _distances(t, size, confidence(level))
    return Rate(estimate, float(special.ndtr(-far)), float(special.ndtr(-near)), level, t, size - 1)


def false_suspect_rate(
    blanks: ArrayLike, cut_off: float | CutOff, *, direction: Direction, level: float = 0.95
) -> Rate:
    """Share of samples without the analyte whose reading lies beyond the cut-off.

        t = (cut-off − mean)/s of the blanks; inverse response: (mean − cut-off)/s
        rate = P(T ≥ t), T Student's t with n − 1 degrees of freedom

    `blanks`: readings of n ≥ 3 negative samples, in the unit of the cut-off. Normal scatter is
    assumed far out in the tail: below about 0.1 % the figure is a manner of speaking. Limits:
    1 − Φ(K), K the distance of the cut-off in true standard deviations, with exact limits of K by
    the noncentral t for a cut-off that does not come from the blanks. The rule's rate and its
    limits are of two laws; where the rate lies beyond a limit, which takes a t above 6 or so, the limit is
    widened to it.

    Raises ValueError for fewer than 3 blanks, a missing one, blanks that are all equal (they
    read the floor: count them instead, with `rates`), another direction than that of `cut_off`.

    Source: Implementing Regulation (EU) 2023/2782, Annex II, 4.2.2; the limits are an own addition.

    >>> import numpy as np
    >>> x = np.arange(20.0)
    >>> x = 0.6 + 0.9 * (x - x.mean()) / x.std(ddof=1)    # constructed: mean 0.6, SD 0.9, n = 20
    >>> found = false_suspect_rate(x, 5 - 1.729132812 * 0.8, direction="proportional")
    >>> round(found.t, 4), round(found.estimate, 6)
    (3.3519, 0.001675)
    """
    sign = _sign(direction)
    if isinstance(cut_off, CutOff):
        if cut_off.direction != direction:
            raise ValueError(f"the cut-off is for a response that is {cut_off.direction}, not {direction}")
        cut_off = cut_off.value
    at = number(cut_off, "the cut-off")
    values = vector(blanks, "blank", at_least=FEWEST)
    mean, sd = _mean_and_sd(values, "blanks")
    df = len(values) - 1
    t = sign * (at - mean) / sd
    estimate = t_probability(-t, df)
    near, far = _distances(t, len(values), confidence(level))
    low, high = float(special.ndtr(-far)), float(special.ndtr(-near))
    return Rate(estimate, min(low, estimate), max(high, estimate), level, t, df)


def rates(detected: int, n: int, *, level: float = 0.95) -> Rates:
    """`detected` of `n` samples as shares found and missed, with exact (Clopper-Pearson) limits.

    Raises ValueError unless 0 ≤ detected ≤ n, n ≥ 1, whole numbers.

    Source: C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404-413 (from memory).

    >>> found = rates(20, 20)
    >>> found.missed.estimate, round(found.missed.high, 3)
    (0.0, 0.168)
    """
    x, trials = counts(detected, n)
    return Rates(proportion(x, trials, level=level), proportion(trials - x, trials, level=level))


def _distances(t: float, n: int, level: float) -> tuple[float, float]:
    """Limits of K, the distance of a fixed point from μ in true σ, from its distance `t` in s of n readings.

    t·√n follows the noncentral t with K·√n; for a point fixed in readings of its own.
    """
    tail, root = (1 - level) / 2, math.sqrt(n)
    return _noncentrality(1 - tail, t * root, n - 1) / root, _noncentrality(tail, t * root, n - 1) / root


def _noncentrality(probability: float, t: float, df: int) -> float:
    """δ for which P(t′(df, δ) ≤ t) = probability."""
    from scipy.optimize import brentq

    if abs(t) > FAR * math.sqrt(df + 1):
        part = probability if t < 0 else 1 - probability
        return t * math.sqrt(chi2_quantile(part, df) / df)

    def excess(delta: float) -> float:
        reached = float(special.nctdtr(df, delta, t))
        if math.isnan(reached):  # so far from t that the function gives no number
            reached = 1.0 if delta < t else 0.0
        return reached - probability

    inner, step, direction = t, 1.0 + abs(t) / 8, 1 if excess(t) > 0 else -1
    while direction * excess(inner + direction * step) > 0:
        inner, step = inner + direction * step, 1.5 * step
    return float(brentq(excess, *sorted((inner, inner + direction * step)), xtol=1e-12, rtol=1e-12))


def _sign(direction: Direction) -> int:
    if direction not in get_args(Direction):
        raise ValueError(f"unknown direction {direction!r}; one of {', '.join(get_args(Direction))} is needed")
    return 1 if direction == "proportional" else -1


def _mean_and_sd(values: Floats, what: str) -> tuple[float, float]:
    mean, squares = squared_deviations(values)
    if float(values.min()) == float(values.max()):
        raise ValueError(f"all {len(values)} {what} are equal ({float(values[0]):g}): their scatter is not known")
    return mean, math.sqrt(squares / (len(values) - 1))
