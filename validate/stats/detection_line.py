"""Detection limits from a calibration line."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from numpy.typing import ArrayLike

from validate.stats._input import number, vector, whole_number
from validate.stats._sums import squared_deviations
from validate.stats.calibration_line import Line
from validate.stats.detection_blanks import error, noncentrality
from validate.stats.intervals import chi2_quantile, t_quantile

Source = Literal["residual", "blanks", "low level", "intercept"]
FEWEST_CALIBRATIONS = 5

SD_KINDS: dict[str, str] = {
    "residual": "residual SD of the calibration",
    "blanks": "SD of the responses of blanks",
    "low level": "SD of the responses of low-level samples",
    "intercept": "SD of the intercepts of separate calibrations",
}


@dataclass(frozen=True)
class SlopeLimits:
    """`lod` = k_detect·sd/|slope|, `loq` = k_quantify·sd/|slope|; `sd_kind` names the SD, `df` its freedom."""

    lod: float
    loq: float
    sd: float
    sd_kind: str
    df: int
    slope: float
    k_detect: float
    k_quantify: float


def from_calibration(
    fit: Line,
    *,
    sd: Source,
    responses: ArrayLike | None = None,
    k_detect: float = 3.3,
    k_quantify: float = 10,
) -> SlopeLimits:
    """Multiples of a standard deviation of signals over the slope: LOD = 3.3·s/|b|, LOQ = 10·s/|b|.

    `sd` names which one: `"residual"`: that of the fit (unweighted only: otherwise it is not
    the scatter at a low level); `"blanks"`, `"low level"`: that of `responses`, signals of
    blanks or of samples near the limit; `"intercept"`: that of `responses`, the intercepts of
    5 or more separate calibrations. The standard error of one intercept is not offered: it
    shrinks with the number of standards, not with the scatter of a sample. The limits are
    net of the blank, and no error probability is attached to them.

    Raises ValueError for a weighted fit with `"residual"`, missing responses, fewer than 5
    intercepts, responses that do not scatter, a slope of 0.

    Source: ICH Q2(R1) 6.3 and 7.3 (multipliers read, choice of the SD from memory).

    >>> from validate.stats.calibration_line import line
    >>> fit = line([0, 2, 4, 6, 8, 10, 12], [2.1, 5.0, 9.0, 12.6, 17.3, 21.0, 24.7])
    >>> round(from_calibration(fit, sd="residual", k_detect=3).lod, 2)
    0.67
    """
    if sd not in SD_KINDS:
        raise ValueError(f"unknown sd {sd!r}; one of {', '.join(SD_KINDS)} is needed")
    if fit.slope == 0:
        raise ValueError("the slope is 0: no amount belongs to a signal")
    spread, df = _residual(fit, responses) if sd == "residual" else _of_responses(sd, responses)
    per_amount = spread / abs(fit.slope)
    return SlopeLimits(
        lod=number(k_detect, "k_detect", above=0) * per_amount,
        loq=number(k_quantify, "k_quantify", above=0) * per_amount,
        sd=spread,
        sd_kind=SD_KINDS[sd],
        df=df,
        slope=fit.slope,
        k_detect=k_detect,
        k_quantify=k_quantify,
    )


@dataclass(frozen=True)
class MinimumDetectable:
    """Critical signal, and critical and minimum detectable amounts as the calibration counts them.

    `minimum_detectable` exceeds `critical_concentration` with probability 1 − beta;
    `detection_upper` is its one-sided 95 % upper limit for the scatter of s.
    """

    critical_signal: float
    critical_concentration: float
    minimum_detectable: float
    detection_upper: float
    m: int
    df: int
    t: float
    delta: float
    alpha: float
    beta: float


def minimum_detectable(fit: Line, *, m: int = 1, alpha: float = 0.05, beta: float = 0.05) -> MinimumDetectable:
    """Critical value and minimum detectable amount of a line with constant scatter, for m replicates.

    With N points, ν = N − 2 and root = √(1/m + 1/N + x̄²/S_xx), S_xx over all N points:

        y_C = a + t(1 − alpha; ν)·s·root·sign(b),   x_C = t·s·root/|b|,   x_D = δ(ν; alpha, beta)·s·root/|b|

    Raises ValueError for a weighted fit (constant scatter is the premise), a line through the
    origin, a slope of 0, m < 1, an error outside 0.001 to 0.5.

    Source: ISO 11843-2:2000, 5.3 (from memory).

    >>> from validate.stats.calibration_line import line
    >>> fit = line([0, 2, 4, 6, 8, 10, 12], [2.1, 5.0, 9.0, 12.6, 17.3, 21.0, 24.7])
    >>> found = minimum_detectable(fit)
    >>> round(found.critical_signal, 3), round(found.critical_concentration, 3), round(found.minimum_detectable, 3)
    (2.573, 0.547, 1.05)
    """
    if fit.weighted:
        raise ValueError("a weighted fit has no constant scatter: fit the low levels without weights")
    if fit.through_origin:
        raise ValueError("a line through the origin leaves the blank no scatter: fit it with an intercept")
    if fit.slope == 0:
        raise ValueError("the slope is 0: no amount belongs to a signal")
    replicates = whole_number(m, "m", at_least=1)
    t, delta = t_quantile(1 - error(alpha, "alpha"), fit.df), noncentrality(fit.df, alpha=alpha, beta=beta)
    unit = fit.residual_sd * math.sqrt(1 / replicates + fit.leverage(0.0))
    detection = delta * unit / abs(fit.slope)
    return MinimumDetectable(
        critical_signal=fit.intercept + math.copysign(t * unit, fit.slope),
        critical_concentration=t * unit / abs(fit.slope),
        minimum_detectable=detection,
        detection_upper=detection * math.sqrt(fit.df / chi2_quantile(0.05, fit.df)),
        m=replicates,
        df=fit.df,
        t=t,
        delta=delta,
        alpha=alpha,
        beta=beta,
    )


def _residual(fit: Line, responses: ArrayLike | None) -> tuple[float, int]:
    if responses is not None:
        raise ValueError("sd='residual' takes the SD from the fit, responses were given too")
    if fit.weighted:
        raise ValueError(
            "the residual SD of a weighted fit is not that of a low level: give blanks or low-level samples"
        )
    return fit.residual_sd, fit.df


def _of_responses(sd: str, responses: ArrayLike | None) -> tuple[float, int]:
    if responses is None:
        raise ValueError(f"sd={sd!r} needs responses")
    fewest = FEWEST_CALIBRATIONS if sd == "intercept" else 2
    values = vector(responses, "intercept" if sd == "intercept" else "response", at_least=fewest)
    df = len(values) - 1
    spread = math.sqrt(squared_deviations(values)[1] / df)
    if spread == 0:
        raise ValueError(f"all {len(values)} responses are equal: they tell nothing of the scatter")
    return spread, df
