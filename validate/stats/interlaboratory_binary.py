"""Probability of detection across laboratories; see `interlaboratory`."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from validate.stats._input import confidence, vector
from validate.stats.detection_trials import score_limits
from validate.stats.intervals import Limits, component_limits, t_quantile

INNER = (0.15, 0.85)
"""LPOD between these takes the t limits of the laboratories, outside the limits of a proportion."""

DIFFER = 0.05
"""Below this chance of as large a χ² laboratories are taken to differ."""
LARGEST = 0.5
"""Largest standard deviation of a result that is 0 or 1."""


@dataclass(frozen=True)
class ProbabilityAcrossLaboratories:
    """`lpod` = x/N, and the standard deviations of a single result coded 0 or 1.

    `s_r` within, `s_L` between laboratories, `s_R` together. A result that is 0 or 1 has the standard
    deviation √(π(1 − π)), so that the limits of `s_R` are those of LPOD; those of `s_r` take the limits
    of `s_L` off and are wide; those of `s_L` treat the laboratories' proportions as normal. All three are
    for information. `s_pod` is the standard deviation of the laboratories' proportions. `chi2` on
    `df` asks whether one probability fits all laboratories; None where nothing or everything was detected.
    """

    lpod: float
    lpod_limits: Limits
    s_r: float
    s_L: float
    s_R: float
    s_r_limits: Limits | None
    s_L_limits: Limits | None
    s_R_limits: Limits | None
    variance_L_raw: float
    s_pod: float
    detected: int
    n: int
    n_laboratories: int
    pod: tuple[float, ...]
    chi2: float | None
    p_value: float | None
    df: int

    @property
    def too_narrow(self) -> bool:
        """Whether LPOD has the limits of one proportion although laboratories differ (χ², 5 %)."""
        return not INNER[0] <= self.lpod <= INNER[1] and self.p_value is not None and self.p_value < DIFFER


def detection_across_laboratories(
    detected: ArrayLike, n: ArrayLike, *, level: float = 0.95
) -> ProbabilityAcrossLaboratories:
    """LPOD with its limits and the components of the scatter of binary results.

    LPOD = Σx_i/Σn_i; s_r² = Σn_i·p_i(1 − p_i)/Σ(n_i − 1); s_L² = (MS_L − s_r²)/n₀ with
    MS_L = Σn_i(p_i − LPOD)²/(L − 1), which for equal n is s_POD² − s_r²/n; s_R² = s_r² + s_L².
    Limits of LPOD: between 0.15 and 0.85 LPOD ± t(L − 1)·s_POD/√L, not beyond 0 and 1;
    outside, or where s_POD is 0, (x + z²/2 ∓ z·√(x − x²/N + z²/4))/(N + z²). These take all results for
    those of one laboratory: where laboratories differ they are too narrow (true LPOD 0.05, σ_L 0.1, ten
    laboratories of 12: they cover 73 %). `too_narrow` tells so where the results show that laboratories
    differ; limits that miss because too few were detected stay untold.
    Limits of s_R: smallest and largest √(π(1 − π)) for π within the limits of LPOD; of s_r:
    √(low(s_R)² − high(s_L)²), √(high(s_R)² − low(s_L)²). Coverage of 95 % limits at LPOD 0.3 to 0.7: s_R as LPOD
    or more, s_r 91 to 100 % (simulated).

    `detected`: x_i positive results in laboratory i, `n`: its n_i results at one level.

    Raises ValueError for fewer than 2 laboratories, n_i < 2, x_i not a whole number from 0 to n_i.

    Source: AOAC Official Methods, Appendix J (2012), Annex F; unequal n_i: the same analysis of
    variance.

    >>> found = detection_across_laboratories([7, 9, 6, 10, 5, 7, 5, 7, 11, 9], [12] * 10)
    >>> round(found.lpod, 4), round(found.s_r, 4), round(found.s_L, 4), round(found.s_R, 3)
    (0.6333, 0.4735, 0.1046, 0.485)
    """
    x, sizes = _counts(detected, n)
    level, p = confidence(level), x / sizes
    count, total, found = x.size, float(sizes.sum()), float(x.sum())
    lpod = found / total
    df_within = int(total) - count
    ms_within = float((x * (1 - p)).sum()) / df_within
    ms_between = float((sizes * (p - lpod) ** 2).sum()) / (count - 1)
    n0 = (total - float((sizes**2).sum()) / total) / (count - 1)
    raw = (ms_between - ms_within) / n0
    variance_pod = float(p.var(ddof=1))
    mixed = 0 < found < total
    chi2 = float((sizes * (p - lpod) ** 2).sum()) / (lpod * (1 - lpod)) if mixed else None
    lpod_limits = _lpod_limits(found, total, variance_pod, count, level)
    s_r, s_L = math.sqrt(ms_within), math.sqrt(max(0.0, raw))
    of_r = of_L = of_R = None
    if mixed:
        as_normal = component_limits(ms_between / n0, count - 1, ms_within / n0, df_within, level)
        method = f"{as_normal.method}, proportions as if normal"
        of_L = _around(s_L, as_normal.low, min(LARGEST, as_normal.high), level, method)
        of_R = _around(
            math.hypot(s_r, s_L), *_spread_of(lpod_limits), level, f"from those of LPOD ({lpod_limits.method})"
        )
        low, high = max(0.0, of_R.low**2 - of_L.high**2), max(0.0, of_R.high**2 - of_L.low**2)
        of_r = _around(s_r, math.sqrt(low), math.sqrt(high), level, "from those of s_R and s_L, wide")
    return ProbabilityAcrossLaboratories(
        lpod=lpod,
        lpod_limits=lpod_limits,
        s_r=s_r,
        s_L=s_L,
        s_R=math.hypot(s_r, s_L),
        s_r_limits=of_r,
        s_L_limits=of_L,
        s_R_limits=of_R,
        variance_L_raw=raw,
        s_pod=math.sqrt(variance_pod),
        detected=int(found),
        n=int(total),
        n_laboratories=count,
        pod=tuple(p.tolist()),
        chi2=chi2,
        p_value=None if chi2 is None else float(special.gammaincc((count - 1) / 2, chi2 / 2)),
        df=count - 1,
    )


def _counts(detected: ArrayLike, n: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    x, sizes = vector(detected, "count of detections", at_least=2), vector(n, "number of results", at_least=2)
    if x.size != sizes.size:
        raise ValueError(f"{x.size} counts and {sizes.size} numbers of results found: one of each for a laboratory")
    if np.any(sizes < 2) or np.any(sizes != np.floor(sizes)):
        raise ValueError("every laboratory needs a whole number of results, at least 2")
    if np.any(x < 0) or np.any(x > sizes) or np.any(x != np.floor(x)):
        raise ValueError("detections must be whole numbers from 0 to the number of results of the laboratory")
    return x, sizes


def _lpod_limits(x: float, n: float, variance_pod: float, count: int, level: float) -> Limits:
    if INNER[0] <= x / n <= INNER[1] and variance_pod > 0:
        half = t_quantile((1 + level) / 2, count - 1) * math.sqrt(variance_pod / count)
        return Limits(max(0.0, x / n - half), min(1.0, x / n + half), level, "t, from the laboratories")
    return score_limits(int(x), int(n), level=level)


def _spread_of(lpod: Limits) -> tuple[float, float]:
    """Smallest and largest √(π(1 − π)) for π within the limits."""
    ends = [math.sqrt(end * (1 - end)) for end in (lpod.low, lpod.high)]
    return min(ends), LARGEST if lpod.low <= 0.5 <= lpod.high else max(ends)


def _around(value: float, low: float, high: float, level: float, method: str) -> Limits:
    """Limits that hold the estimate: for few results it may be a little above what a 0 or 1 can scatter."""
    return Limits(min(low, value), max(high, value), level, method)
