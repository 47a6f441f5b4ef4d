"""How many standards, blanks and low spikes: sample sizes for linearity and detection.

Companion of `design`; the chance that a single level passes is `design.pass_probability`
with `kind="mean"`.
"""

from __future__ import annotations

import math

from validate.stats._input import number, whole_number
from validate.stats.calibration_inverse import Scatter
from validate.stats.design import LARGEST, Size, pass_probability
from validate.stats.detection_trials import detections_needed
from validate.stats.intervals import chi2_quantile


def linearity_power(
    margin: float,
    s: float,
    replicates: int,
    *,
    levels: int,
    scatter: Scatter = "pooled",
    true_deviation: float = 0,
    alpha: float = 0.05,
) -> float:
    """Chance that the interval of one level lies inside ±margin (two one-sided tests).

    `margin`, `s` (standard deviation of a single result at the level) and `true_deviation`
    in per cent of the level. The mean of the replicates has s/√replicates; the degrees of
    freedom are levels·(replicates − 1) for `"pooled"` scatter, replicates − 1 for
    `"level"`, as in `regression.back_calculated`.

    Raises ValueError for a margin or s that is not above 0, fewer than 2 replicates or 1 level.

    >>> round(linearity_power(1, 1, 10, levels=1), 4)
    0.7952
    """
    each, k = whole_number(replicates, "replicates", at_least=2), whole_number(levels, "levels", at_least=1)
    bound, spread = number(margin, "the margin", above=0), number(s, "s", above=0)
    return pass_probability(
        number(true_deviation, "the true deviation"),
        kind="mean",
        low=-bound,
        high=bound,
        se=spread / math.sqrt(each),
        df=(k if scatter == "pooled" else 1) * (each - 1),
        by="interval",
        alpha=alpha,
    )


def replicates_for_linearity(
    margin: float,
    s: float,
    *,
    levels: int = 1,
    scatter: Scatter = "pooled",
    true_deviation: float = 0,
    power: float = 0.8,
    alpha: float = 0.05,
) -> Size:
    """Replicates at each level that show all deviations from the line to lie inside ±margin.

    Each level is planned with power 1 − (1 − power)/levels, so that all pass with `power`.
    Arguments as `linearity_power`; the power told is that of one level.

    Raises ValueError when the true deviation is not inside the margin, a power outside 0
    to 1, or more than 100,000 replicates.

    >>> [replicates_for_linearity(1, 1, levels=k, scatter="level").n for k in (1, 3)]
    [11, 14]
    >>> replicates_for_linearity(1, 1, levels=5).n
    14
    """
    if abs(true_deviation) >= margin:
        raise ValueError(f"a true deviation of {true_deviation:g} is not inside ±{margin:g}: no number suffices")
    if not 0 < power < 1:
        raise ValueError(f"the power must lie between 0 and 1, found {power!r}")
    wanted = 1 - (1 - power) / whole_number(levels, "levels", at_least=1)

    def reached(n: int) -> float:
        return linearity_power(margin, s, n, levels=levels, scatter=scatter, true_deviation=true_deviation, alpha=alpha)

    low, high = 1, 2
    while reached(high) < wanted:
        low, high = high, 2 * high
        if high > LARGEST:
            raise ValueError(f"more than {LARGEST} would be needed: the margin is too narrow")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if reached(middle) >= wanted else (middle, high)
    return Size(high, reached(high), (levels if scatter == "pooled" else 1) * (high - 1))


def trials_for_detection(misses: int = 0, *, probability: float = 0.95, confidence_level: float = 0.95) -> int:
    """The fewest trials that prove a probability of detection although `misses` of them miss.

    By the one-sided Clopper-Pearson lower limit. Raises ValueError for misses < 0 or more
    than 100,000 trials.

    >>> [trials_for_detection(misses) for misses in (0, 1, 2)]
    [59, 93, 124]
    """
    missed = whole_number(misses, "misses", at_least=0)

    def enough(n: int) -> bool:
        needed = detections_needed(n, probability=probability, confidence_level=confidence_level)
        return needed is not None and n - needed >= missed

    low, high = missed, missed + 1
    while not enough(high):
        low, high = high, 2 * high
        if high > LARGEST:
            raise ValueError(f"more than {LARGEST} trials would be needed")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def blanks_for_detection(ratio: float, *, alpha: float = 0.05) -> int:
    """Blanks for which the upper limit of x_D stays within the claim: √(ν/χ²(alpha; ν)) ≤ ratio.

    `ratio` = claimed / expected detection limit; ν = n − 1. Plans for an estimate that falls
    on its expectation: about half of all studies do better.

    Raises ValueError for a ratio that is not above 1, or more than 100,000 blanks.

    >>> blanks_for_detection(1.5)
    14
    """
    bound = number(ratio, "the ratio of claimed to expected limit", above=1)

    def factor(n: int) -> float:
        return math.sqrt((n - 1) / chi2_quantile(alpha, n - 1))

    low, high = 1, 2
    while factor(high) > bound:
        low, high = high, 2 * high
        if high > LARGEST:
            raise ValueError(f"more than {LARGEST} blanks would be needed: the claim is too near")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if factor(middle) <= bound else (middle, high)
    return high
