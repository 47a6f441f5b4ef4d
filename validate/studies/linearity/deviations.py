"""What decides: how far each level, and the curve over the range, lies from the line, in percent of the level."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from math import inf, isinf, sqrt

import numpy as np

from validate.stats.descriptive import summary
from validate.stats.intervals import Limits, Term, satterthwaite_df, t_limits, t_quantile
from validate.stats.regression import (
    BackCalculated,
    Line,
    QuadraticAgainstLine,
    back_calculated,
    line,
    quadratic_against_line,
)
from validate.studies.contract import ALPHA, StudyInput
from validate.studies.linearity.calibration import NO_SCATTER, Calibration, LevelPoints
from validate.studies.linearity.settings import RESOLUTION_SHARE
from validate.vocabulary.finding import Interval
from validate.vocabulary.limits import limits_working

LimitsAt = Callable[[float], Limits]
"""Confidence level → limits."""


@dataclass(frozen=True)
class Deviation:
    """One level as the line (or the instrument) gives it back; `u` and limits in percent of the level."""

    points: LevelPoints
    mean_reading: float
    found: float
    percent: float
    u: float
    df: float
    groups: int | None
    words: str
    blocked: tuple[str, ...]

    @property
    def level(self) -> str:
        return self.points.level

    def limits(self, confidence: float) -> Limits:
        return t_limits(self.percent, self.u, self.df, confidence)


def deviations_of(calibration: Calibration) -> tuple[Deviation, ...]:
    """One for each measured level above 0; empty without a line.

    A signal is read back from the fitted line, a shown content is taken as it stands. With
    several days their means carry the limits (t on days − 1); otherwise the scatter within
    levels, pooled by the declared weights, does, and the scatter about the line where no
    level was measured twice.
    """
    fit = calibration.fit
    if fit is None:
        return ()
    used = replace(fit, slope=1.0, intercept=0.0) if calibration.shows_content else fit
    if calibration.by_day:
        return tuple(_over_days(calibration, points, used) for points in calibration.above_zero)
    rows = {row.at: row for row in back_calculated(used)}
    scatter = "pooled within levels" if fit.n > len(rows) else "about the line: no level was measured twice"
    return tuple(_pooled(calibration, points, rows[points.x], used, scatter) for points in calibration.above_zero)


def _over_days(calibration: Calibration, points: LevelPoints, used: Line) -> Deviation:
    means = summary(points.y, points.days)
    days = int(means.n_groups or 0)
    words = f"mean of the means of {days} days ({points.n} readings)"
    return _deviation(calibration, points, used, Mean(means.mean, means.u, days, days - 1, days, words))


def _pooled(calibration: Calibration, points: LevelPoints, row: BackCalculated, used: Line, scatter: str) -> Deviation:
    words = (f"mean of {points.n} readings" if points.n > 1 else "the one reading") + f"; scatter {scatter}"
    u = row.u_percent * abs(used.slope) * points.x / 100
    return _deviation(calibration, points, used, Mean(float(np.mean(points.y)), u, points.n, row.df, None, words))


@dataclass(frozen=True)
class Mean:
    """Mean reading of a level with its standard uncertainty; `averaged`: how many readings or day means."""

    value: float
    u: float
    averaged: int
    df: float
    groups: int | None
    words: str


def _deviation(calibration: Calibration, points: LevelPoints, used: Line, mean: Mean) -> Deviation:
    scatter, step = mean.u * sqrt(mean.averaged), calibration.resolution
    u, df = mean.u, mean.df
    if step is not None and scatter < RESOLUTION_SHARE * step:
        terms = [Term(u**2, df), Term(step**2 / 12, inf)]
        u, df = sqrt(sum(term.value for term in terms)), satterthwaite_df(terms)
    found = (mean.value - used.intercept) / used.slope
    return Deviation(
        points=points,
        mean_reading=mean.value,
        found=found,
        percent=100 * (found - points.x) / points.x,
        u=100 * u / abs(used.slope) / points.x,
        df=df,
        groups=mean.groups,
        words=mean.words,
        blocked=tuple(_blocks(calibration, points, scatter)),
    )


def _blocks(calibration: Calibration, points: LevelPoints, scatter: float) -> Iterable[str]:
    """Reasons that forbid a verdict at this level."""
    step, method = calibration.resolution, calibration.job.method
    if points.censored:
        yield f"{len(points.censored)} of {points.n + len(points.censored)} readings are censored"
    if scatter <= NO_SCATTER * abs(float(points.y.mean())):
        yield "the readings repeat exactly (s = 0)"
    elif step is not None and scatter < RESOLUTION_SHARE * step:
        yield f"s is below half the resolution of the reading ({f'{step:g} {calibration.unit}'.strip()})"
    if calibration.shows_content and method.floor is not None and (points.y <= method.floor).any():
        yield "readings stand at the floor of the display and may have been clipped there"
    fit = calibration.fit
    if not calibration.shows_content and fit.slope_limits.low <= 0 <= fit.slope_limits.high:
        yield "the slope is not distinguishable from zero"


@dataclass(frozen=True)
class Bend:
    """The least-squares quadratic y = c0 + c1·x + c2·x² against the line, where they lie farthest apart.

    The quadratic is the line plus c2·((x − x̄)² − α − β·(x − x̄)), orthogonal to it.
    """

    calibration: Calibration
    found: QuadraticAgainstLine
    c0: float
    c1: float
    slope: float
    intercept: float

    @property
    def percent(self) -> float:
        return self.found.deviation_percent

    @property
    def is_exact(self) -> bool:
        """Whether the readings lie on the quadratic but for rounding."""
        span = self.found.highest - self.found.lowest
        return self.found.se_curvature * span**2 <= NO_SCATTER * float(np.max(np.abs(self.calibration.y)))

    def limits(self, confidence: float) -> Limits:
        """t limits; the standard error is that behind the limits of the found bend."""
        found = self.found
        u = (found.high - found.low) / 2 / t_quantile((1 + found.level) / 2, found.df)
        return t_limits(self.percent, u, found.df, confidence)


def bend_of(calibration: Calibration) -> Bend | str:
    """The bend over the range from the lowest level above 0 to the highest, or why there is none."""
    x, y, weights = calibration.x, calibration.y, calibration.weights
    try:
        found = quadratic_against_line(x, y, weights)
    except ValueError as error:
        return str(error)
    forced = calibration.settings.through_origin or calibration.fit is None
    straight = line(x, y, weights) if forced else calibration.fit
    d, c = np.array(straight.x) - straight.x_mean, found.curvature
    middle, alpha = straight.x_mean, straight.s_xx / straight.n
    beta = float(np.sum(np.array(straight.weights) * d**3)) / straight.s_xx
    return Bend(
        calibration,
        found,
        c0=straight.intercept + c * (middle**2 - alpha + beta * middle),
        c1=straight.slope - c * (2 * middle + beta),
        slope=straight.slope,
        intercept=straight.intercept,
    )


def confidences(job: StudyInput, hidden: int = 0) -> tuple[tuple[str, float], ...]:
    """Use and confidence level; `hidden` comparisons inside one criterion count into K."""
    return (("shown", 0.95), ("met", 1 - 2 * ALPHA), ("not_met", 1 - 2 * ALPHA / (max(1, job.comparisons) + hidden)))


def intervals_of(job: StudyInput, limits: LimitsAt, unit: str) -> tuple[Interval, ...]:
    """95 % to be shown, 1 − 2α for `met` and 1 − 2α/K for `not met`, in `unit`."""
    return tuple(_interval(use, limits(confidence), unit) for use, confidence in confidences(job))


def distances_of(job: StudyInput, parts: Iterable[LimitsAt], method: str) -> tuple[Interval, ...]:
    """Limits of the largest distance from 0 among `parts`.

    Its upper limit is the farthest end of any part: below a bound exactly when every
    part lies within ± the bound. Its lower limit exceeds a bound exactly when some part
    lies wholly outside; for that α is divided by the parts too.
    """
    parts = list(parts)
    made = []
    for use, confidence in confidences(job, hidden=len(parts) - 1):
        ends = [distance(part(confidence)) for part in parts]
        low, high = max(low for low, _ in ends), max(high for _, high in ends)
        made.append(Interval(use=use, level=confidence, low=low, high=high, method=method))  # type: ignore[arg-type]
    return tuple(made)


def distance(limits: Limits) -> tuple[float, float]:
    """Nearest and farthest distance from 0 between two limits."""
    ends = abs(limits.low), abs(limits.high)
    return (0.0 if limits.low <= 0 <= limits.high else min(ends)), max(ends)


def finite(df: float) -> float | None:
    return None if isinf(df) else df


def _interval(use: str, limits: Limits, unit: str) -> Interval:
    working = limits_working(limits.rests_on, unit) if use == "shown" else None
    return Interval(
        use=use, level=limits.level, low=limits.low, high=limits.high, method=limits.method, working=working
    )  # type: ignore[arg-type]
