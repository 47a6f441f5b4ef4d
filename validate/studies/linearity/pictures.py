"""Pictures: the calibration with its bands, residuals and deviations in percent of the level."""

from __future__ import annotations

from math import sqrt

import numpy as np

from validate.stats.intervals import t_quantile
from validate.studies.linearity.calibration import Calibration
from validate.studies.linearity.deviations import Deviation
from validate.studies.linearity.working_range import rules_of
from validate.vocabulary.plot import Axis, Band, Layer, Line, Plot, Points, Rule, Whiskers

MOST_POINTS = 2000
CURVE_POINTS = 41
SPREAD = 0.3
"""Width over which the readings of a level are spread, in steps of the axis."""


def pictures(calibration: Calibration, deviations: tuple[Deviation, ...]) -> tuple[Plot, ...]:
    """None without a line."""
    if calibration.fit is None:
        return ()
    plots = [_calibration_plot(calibration)]
    if deviations:
        plots += [_residual_plot(calibration), _deviation_plot(calibration, deviations)]
    return tuple(plots)


def _calibration_plot(calibration: Calibration) -> Plot:
    fit, unit = calibration.fit, calibration.job.method.unit
    name = "found" if calibration.shows_content else calibration.settings.signal.name
    places = np.linspace(fit.lowest, fit.highest, CURVE_POINTS)
    band = [fit.at(float(x), level=0.95) for x in places]
    middle = [fit.intercept + fit.slope * float(x) for x in places]
    half = [_half_of_one(calibration, float(x)) for x in places]
    x, y, rows = _thinned(calibration.x, calibration.y, calibration.index.to_numpy())
    at = tuple(places.tolist())
    layers: list[Layer] = [
        Band(x=at, low=tuple(b.low for b in band), high=tuple(b.high for b in band)),
        Line(x=at, y=tuple(m + h for m, h in zip(middle, half, strict=True)), style="dotted",
             label="one reading, 95 %"),
        Line(x=at, y=tuple(m - h for m, h in zip(middle, half, strict=True)), style="dotted"),
        Line(x=at, y=tuple(middle), label="line", accent=True),
        Points(x=x, y=y, rows=rows, label="readings"),
    ]  # fmt: skip
    if calibration.shows_content:
        ends = (fit.lowest, fit.highest)
        layers.insert(0, Line(x=ends, y=ends, style="dashed", label="found = nominal"))
    return Plot(
        name="calibration",
        title="Readings and line",
        sentence="The band holds the line, the dotted lines hold a further single reading, each with 95 % confidence.",
        description=f"{len(calibration.x)} readings at {len(calibration.measured)} levels from {fit.lowest:g} to "
        f"{fit.highest:g} {unit}, with the fitted line: slope {fit.slope:.4g}, intercept {fit.intercept:.4g}.",
        x=Axis(label=f"level ({unit})"),
        y=Axis(label=_with_unit(name, calibration.unit)),
        layers=tuple(layers),
    )


def _half_of_one(calibration: Calibration, x: float) -> float:
    """t·s·√(1/w + leverage): how far a further single reading at x may lie from the line."""
    fit, lowest = calibration.fit, min(level.x for level in calibration.above_zero or calibration.measured)
    weights = calibration.weights_at(np.array([max(x, lowest)]))
    own = 1.0 if weights is None else fit.weight_mean / float(weights[0])
    return t_quantile(0.975, fit.df) * fit.residual_sd * sqrt(own + fit.leverage(x))


def _residual_plot(calibration: Calibration) -> Plot:
    """Single readings: 100·(y − ŷ)/(b·x), categories in the order of the levels."""
    fit = calibration.fit
    xs, ys, rows = [], [], []
    for place, level in enumerate(calibration.above_zero, start=1):
        percent = 100 * (level.y - fit.intercept - fit.slope * level.x) / (fit.slope * level.x)
        xs.append(place + SPREAD * (np.arange(level.n) / max(1, level.n - 1) - 0.5 if level.n > 1 else np.zeros(1)))
        ys.append(percent)
        rows.append(level.index.to_numpy())
    everything = np.concatenate(ys)
    x, y, kept = _thinned(np.concatenate(xs), everything, np.concatenate(rows))
    return Plot(
        name="residuals",
        title="Residuals in percent of the level",
        sentence="Single readings against the fitted line; an arch or a slope from left to right would show a bend.",
        description=f"Residuals of {len(everything)} readings in percent of their level, from {everything.min():.3g} % "
        f"to {everything.max():.3g} %.",
        x=Axis(label=f"level ({calibration.job.method.unit})", categories=_names(calibration)),
        y=Axis(label="residual (% of level)"),
        layers=(Points(x=x, y=y, rows=kept), Rule(at=0.0, style="dotted")),
    )


def _deviation_plot(calibration: Calibration, deviations: tuple[Deviation, ...]) -> Plot:
    limits = [each.limits(0.90) for each in deviations]
    spoken = "; ".join(f"level {d.level}: {d.percent:.3g} %" for d in deviations)
    against = "nominal content" if calibration.shows_content else "line"
    rules, judged = (), "deviation"
    if "deviation" not in calibration.settings.accept:
        bounds = [rule for rule in rules_of(calibration.settings) if rule.finding == "largest_deviation"]
        rules = tuple(Rule(at=end, label=f"{end:+g} %") for rule in bounds for end in (rule.low, rule.high))
        judged = None
    return Plot(
        name="deviations",
        title="Deviation by level",
        sentence=f"Mean of each level against the {against}, with 90 % limits: inside the bounds at every level "
        "shows linearity within them.",
        description=f"Deviations in percent of the level. {spoken}.",
        x=Axis(label=f"level ({calibration.job.method.unit})", categories=_names(calibration)),
        y=Axis(label="deviation (% of level)"),
        layers=(
            Whiskers(
                x=tuple(float(i) for i in range(1, len(deviations) + 1)),
                y=tuple(each.percent for each in deviations),
                low=tuple(each.low for each in limits),
                high=tuple(each.high for each in limits),
            ),
            Rule(at=0.0, style="dotted"),
            *rules,
        ),
        criterion_of=judged,
    )


def _names(calibration: Calibration) -> tuple[str, ...]:
    return tuple(level.level for level in calibration.above_zero)


def _with_unit(name: str, unit: str) -> str:
    return f"{name} ({unit})" if unit else name


def _thinned(
    x: np.ndarray, y: np.ndarray, rows: np.ndarray
) -> tuple[tuple[float, ...], tuple[float, ...], tuple[int, ...]]:
    """At most MOST_POINTS points, evenly through their order."""
    if len(y) > MOST_POINTS:
        kept = np.linspace(0, len(y) - 1, MOST_POINTS).astype(int)
        x, y, rows = x[kept], y[kept], rows[kept]
    return tuple(x.tolist()), tuple(y.tolist()), tuple(int(row) for row in rows)
