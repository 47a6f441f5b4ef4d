"""The probability of detection as a curve over the level."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple, get_args

import numpy as np
from numpy.typing import ArrayLike

from validate.stats._binomial_line import LINEAR, Fit, Trials
from validate.stats._input import Floats, confidence, vector
from validate.stats.detection_trials import Proportion, proportion
from validate.stats.intervals import chi2_quantile

Model = Literal["cloglog", "cloglog-slope-1", "logit", "probit"]
FARTHEST = 30.0
"""Limits are sought up to e^30 times the estimate: beyond, there is none."""
ROUNDING = 1e-9
"""An estimate at an outermost level is not extrapolated for its last digits."""


@dataclass(frozen=True)
class DetectedLevel:
    """The level detected with `probability`, with profile likelihood limits at confidence `level`.

    `extrapolated`: it lies outside the levels that were tried. `low`, `high` are None, with
    the `reason`, when the data do not bound it; `value` as well when the curve is so flat
    that it would be a factor e^30 beyond them.
    """

    value: float | None
    low: float | None
    high: float | None
    level: float
    probability: float
    extrapolated: bool
    reason: str | None = None


@dataclass(frozen=True)
class DetectionCurve:
    """Fitted curve: link(p) = intercept + slope·ln(level). Estimates are None with a `reason`.

    `false_positive`: the proportion detected at level 0, no point of the curve; None when
    it was not tried. `deviance` on `df` measures the lack of fit. `se_slope` is None where
    the slope is fixed.
    """

    model: Model
    intercept: float | None
    slope: float | None
    se_intercept: float | None
    se_slope: float | None
    level_50: DetectedLevel | None
    level_95: DetectedLevel | None
    log_likelihood: float | None
    deviance: float | None
    df: int
    false_positive: Proportion | None
    reason: str | None = None

    def probability(self, level: ArrayLike) -> Floats:
        """The probability of detection that the curve gives at `level` (above 0); ValueError without a curve."""
        if self.intercept is None or self.slope is None:
            raise ValueError(self.reason)
        eta = self.intercept + self.slope * np.log(np.asarray(level, dtype=float))
        one = np.ones(1)
        return np.exp(Trials(one, one, _link(self.model)).logs(eta).hit)


class _Data(NamedTuple):
    """Rows above level 0: ln level about its mean, and the trials."""

    x: Floats
    centre: float
    trials: Trials


def probability_of_detection(
    level: ArrayLike, n: ArrayLike, detected: ArrayLike, *, model: Model, confidence_level: float = 0.95
) -> DetectionCurve:
    """Fit the probability of detection to `detected` of `n` trials at each `level`.

    | model | p(level) |
    |---|---|
    | `cloglog` | 1 − exp(−exp(a + b·ln level)) |
    | `cloglog-slope-1` | the same with b = 1: 1 − exp(−e^a·level), a detection for each unit hit |
    | `logit`, `probit` | 1/(1 + exp(−a − b·ln level)); Φ(a + b·ln level) |

    By maximum likelihood. level_p = exp((link(p) − a)/b); its limits are all levels θ for
    which the likelihood, at its best in b with p(θ) fixed, falls by no more than
    χ²(confidence_level; 1)/2 (profile likelihood). `level`: amounts, 0 allowed (a false
    positive rate); `n`, `detected`: whole numbers.

    No estimates, with the reason: all detected or none; complete separation (no level with
    both outcomes between levels of only one); a slope that is not above 0. No limits, with
    the reason: the slope is not distinguishable from 0.

    Raises ValueError for lengths that differ, a negative level, counts that are not whole or
    do not fit, fewer than 2 levels above 0 (1 with slope 1), an unknown model.

    Source: P. McCullagh, J. A. Nelder, Generalized Linear Models, chapter 4 (from memory).

    >>> curve = probability_of_detection([0, 1, 2, 4, 8], [20] * 5, [1, 5, 9, 17, 20], model="cloglog")
    >>> round(curve.level_50.value, 3), round(curve.level_95.value, 3)
    (2.029, 5.386)
    >>> round(curve.level_95.low, 3), round(curve.level_95.high, 3)
    (3.961, 8.782)
    """
    confidence(confidence_level)
    if model not in get_args(Model):
        raise ValueError(f"unknown model {model!r}; one of {', '.join(get_args(Model))} is needed")
    amounts, trials, hits = _checked(level, n, detected)
    zero = amounts == 0
    false_positive = proportion(int(hits[zero].sum()), int(trials[zero].sum())) if zero.any() else None
    amounts, trials, hits = amounts[~zero], trials[~zero], hits[~zero]
    levels, fewest = len(set(amounts.tolist())), 1 if model == "cloglog-slope-1" else 2
    if levels < fewest:
        raise ValueError(f"{levels} levels above 0 found, at least {fewest} needed")
    nothing = DetectionCurve(
        model, None, None, None, None, None, None, None, None, len(amounts) - fewest, false_positive
    )
    reason = _no_curve(amounts, trials, hits, model)
    if reason is not None:
        return replace(nothing, reason=reason)
    x = np.log(amounts)
    data = _Data(x - x.mean(), float(x.mean()), Trials(hits, trials, _link(model)))
    return _with_slope_1(nothing, data, confidence_level) if fewest == 1 else _free(nothing, data, confidence_level)


def _free(nothing: DetectionCurve, data: _Data, level: float) -> DetectionCurve:
    trials, x = data.trials, data.x
    design, none = np.column_stack([np.ones(len(x)), x]), np.zeros(len(x))
    flat = trials.fit(design[:, :1], none, np.zeros(1))
    best = trials.fit(design, none, np.array([flat.coefficients[0], 0.0]))
    at_centre, slope = best.coefficients.tolist()
    if slope <= 0:
        return replace(nothing, reason="detection does not rise with the level: the slope is not above 0")
    covariance = np.linalg.inv(best.information)
    shift = np.array([1.0, -data.centre])
    drop = chi2_quantile(level, 1) / 2
    bounded = best.log_likelihood - flat.log_likelihood > drop

    def detected_level(p: float) -> DetectedLevel:
        target = LINEAR[trials.link](p)
        at = (target - at_centre) / slope
        last = [slope]

        def fall(theta: float) -> float:
            """How much the likelihood falls below what is allowed when p(θ) is held at `p`."""
            held = trials.fit((x - theta)[:, None], np.full(len(x), target), np.array(last))
            last[0] = float(held.coefficients[0])
            return best.log_likelihood - held.log_likelihood - drop

        limits = _limits(fall, at, slope) if bounded else (None, None)
        return _detected_level(
            data, at, limits, p, level, None if bounded else "the slope is not distinguishable from 0"
        )

    return replace(
        nothing,
        intercept=at_centre - slope * data.centre,
        slope=slope,
        se_intercept=float(np.sqrt(shift @ covariance @ shift)),
        se_slope=float(np.sqrt(covariance[1, 1])),
        level_50=detected_level(0.50),
        level_95=detected_level(0.95),
        log_likelihood=best.log_likelihood,
        deviance=trials.deviance(design @ best.coefficients),
    )


def _with_slope_1(nothing: DetectionCurve, data: _Data, level: float) -> DetectionCurve:
    trials, x = data.trials, data.x
    best: Fit = trials.fit(np.ones((len(x), 1)), x, np.zeros(1))
    at_centre = float(best.coefficients[0])
    drop = chi2_quantile(level, 1) / 2

    def detected_level(p: float) -> DetectedLevel:
        target = LINEAR[trials.link](p)

        def fall(theta: float) -> float:
            return best.log_likelihood - trials.log_likelihood(target - theta + x) - drop

        at = target - at_centre
        return _detected_level(data, at, _limits(fall, at, 1.0), p, level, None)

    return replace(
        nothing,
        intercept=at_centre - data.centre,
        slope=1.0,
        se_intercept=float(1 / np.sqrt(best.information[0, 0])),
        level_50=detected_level(0.50),
        level_95=detected_level(0.95),
        log_likelihood=best.log_likelihood,
        deviance=trials.deviance(at_centre + x),
    )


def _detected_level(
    data: _Data, at: float, limits: tuple[float | None, float | None], p: float, level: float, reason: str | None
) -> DetectedLevel:
    if abs(at) > FARTHEST:
        return DetectedLevel(None, None, None, level, p, True, reason or "the level lies far beyond those tried")
    low, high = (None if end is None else math.exp(end + data.centre) for end in limits)
    if reason is None and (low is None or high is None):
        reason = "the data do not bound the level on " + ("either side" if low is high else "one side")
    outside = not float(data.x.min()) - ROUNDING <= at <= float(data.x.max()) + ROUNDING
    return DetectedLevel(math.exp(at + data.centre), low, high, level, p, outside, reason)


def _limits(fall: Callable[[float], float], at: float, slope: float) -> tuple[float | None, float | None]:
    """The roots of `fall` on either side of `at`; None where it stays below 0."""
    from scipy.optimize import brentq

    def end(direction: int) -> float | None:
        inner, step = 0.0, 0.1 / slope
        while step < FARTHEST:
            if fall(at + direction * step) > 0:
                return float(brentq(fall, at + direction * inner, at + direction * step, xtol=1e-12, rtol=1e-12))
            inner, step = step, 1.6 * step
        return None

    return end(-1), end(1)


def _no_curve(amounts: Floats, n: Floats, hits: Floats, model: Model) -> str | None:
    """Why the likelihood has no maximum."""
    if not hits.any():
        return "nothing was detected at any level: add higher levels"
    if np.all(hits == n):
        return "everything was detected at every level: add lower levels"
    if model == "cloglog-slope-1":
        return None
    with_hits, with_misses = amounts[hits > 0], amounts[hits < n]
    if with_misses.max() <= with_hits.min():
        return "complete separation: no two levels with both outcomes, so any steep curve fits; add levels in between"
    if with_hits.max() <= with_misses.min():
        return "detection does not rise with the level: the slope is not above 0"
    return None


def _checked(level: ArrayLike, n: ArrayLike, detected: ArrayLike) -> tuple[Floats, Floats, Floats]:
    amounts, trials, hits = vector(level, "level"), vector(n, "number of trials"), vector(detected, "number detected")
    if not len(amounts) == len(trials) == len(hits):
        raise ValueError(f"{len(amounts)} levels, {len(trials)} n and {len(hits)} detected found; one each is needed")
    if np.any(amounts < 0):
        raise ValueError(f"a level must not be below 0, found {float(np.min(amounts)):g}")
    whole = np.all(trials == np.floor(trials)) and np.all(hits == np.floor(hits))
    if not whole or np.any(trials < 1) or np.any(hits < 0) or np.any(hits > trials):
        raise ValueError("detected and n must be whole numbers with 0 ≤ detected ≤ n and n at least 1")
    return amounts, trials, hits


def _link(model: Model) -> str:
    return "cloglog" if model == "cloglog-slope-1" else model
