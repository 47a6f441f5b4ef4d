"""Plot data: ratios (or differences) by level, new against current, lots over time."""

from __future__ import annotations

import math

import numpy as np

from validate.stats.intervals import t_limits
from validate.studies.lot_comparison.comparing import Outcome
from validate.studies.lot_comparison.context import Context
from validate.studies.lot_comparison.drift import Lots
from validate.studies.lot_comparison.kinds import PLURALS
from validate.vocabulary.plot import Axis, Line, Plot, Points, Rule, Whiskers

MOST_POINTS = 2000
SPREAD = 0.5
"""Share of a level's place over which its single points are spread."""
WHISKER_OFFSET = 0.33


def by_level(context: Context, found: tuple[Outcome, ...], overall: Outcome) -> tuple[Plot, ...]:
    """Every pair, and the 90 % interval of the mean, level by level: the one picture for the bench."""
    settings = context.settings
    lines = [*found, overall] if len(found) > 1 else list(found)
    labels = tuple("all" if n == len(found) or e.part.level is None else e.part.level for n, e in enumerate(lines))
    told = [(place, each) for place, each in enumerate(lines, start=1) if each.tost is not None]
    points = _single(context, found) if settings.paired and context.all.n <= MOST_POINTS else ()
    if not told and not points:
        return ()
    what = "new in % of current" if settings.is_ratio else f"new − current, {context.unit}"
    whiskers = Whiskers(
        x=tuple(place + WHISKER_OFFSET for place, _ in told),
        y=tuple(settings.shown(each.tost.estimate) for _, each in told),
        low=tuple(settings.shown(each.tost.low) for _, each in told),
        high=tuple(settings.shown(each.tost.high) for _, each in told),
        label="mean, 90 % interval",
    )
    bound = "rejection limits" if settings.is_shift else "margin"
    described = "; ".join(
        f"{labels[place - 1]}: {settings.shown(each.tost.estimate):.4g} "
        f"({settings.shown(each.tost.low):.4g} to {settings.shown(each.tost.high):.4g})"
        for place, each in told
    )
    plot = Plot(
        name="by_level",
        title=f"{settings.new} against {settings.current}",
        sentence=(
            "The shift over all pairs has to lie between the rejection limits."
            if settings.is_shift
            else "Equal within the margin is shown where the whole interval lies between its two lines."
        ),
        description=f"{what}, means with 90 % intervals. {described}. Lines: {bound}.",
        x=Axis(label=f"level, {context.unit}" if settings.design.levels else "", categories=labels),
        y=Axis(label=what),
        layers=(
            *points,
            *((whiskers,) if told else ()),
            Rule(at=settings.shown(0.0), label="equal", style="solid"),
        ),
        criterion_of=settings.primary,
    )
    return (plot,)


def _single(context: Context, found: tuple[Outcome, ...]) -> tuple[Points, ...]:
    x: list[float] = []
    y: list[float] = []
    rows: list[int] = []
    for place, each in enumerate(found, start=1):
        n = each.part.n
        if not n:
            continue
        x += (place + SPREAD * ((np.arange(n) + 0.5) / n - 0.5) - (WHISKER_OFFSET - SPREAD / 2)).tolist()
        y += [context.settings.shown(float(difference)) for difference in each.part.differences]
        rows += each.part.row_of
    return (Points(x=tuple(x), y=tuple(y), label="single pairs", rows=tuple(rows)),) if x else ()


def agreement(context: Context) -> tuple[Plot, ...]:
    """New against current, with the line of equality."""
    part, settings = context.all, context.settings
    if not part.paired or not 2 <= part.n <= MOST_POINTS:
        return ()
    scale = "log" if part.is_ratio else "linear"
    ends = (float(min(part.new.min(), part.current.min())), float(max(part.new.max(), part.current.max())))
    layers = [
        Points(x=tuple(part.current.tolist()), y=tuple(part.new.tolist()), label="samples", rows=part.row_of),
        Line(x=ends, y=ends, label="equal", style="dashed"),
    ]
    limit = context.job.method.limit
    if limit is not None and ends[0] <= limit <= ends[1]:
        layers += [Rule(at=limit, label="decision limit", style="dotted"), Rule(at=limit, axis="x", style="dotted")]
    plot = Plot(
        name="agreement",
        title="Samples with both",
        sentence="Points on the line read the same; a bend or a tilt means that the ratio depends on the level.",
        description=f"{part.n} samples, {settings.current} from {part.current.min():.4g} to {part.current.max():.4g}, "
        f"{settings.new} from {part.new.min():.4g} to {part.new.max():.4g}{context.in_units}.",
        x=Axis(label=f"{settings.factor} {settings.current}, {context.unit}", scale=scale),
        y=Axis(label=f"{settings.factor} {settings.new}, {context.unit}", scale=scale),
        layers=tuple(layers),
    )
    return (plot,)


def lots_over_time(context: Context, lots: Lots) -> Plot:
    """Each lot against the validation lot: what no single comparison shows."""
    m = len(lots.labels)
    places = tuple(float(n) for n in range(1, m + 1))
    limits = [
        t_limits(float(lots.positions[n]), math.sqrt(lots.covariance[n, n]), lots.df_of(n), 0.95) for n in range(1, m)
    ]
    values = tuple(100 * math.exp(float(position)) for position in lots.positions)
    bounds: tuple[Rule, ...] = ()
    margin = context.settings.margin
    if margin is not None:
        bounds = tuple(Rule(at=100 * end, label="margin" if end > 1 else "") for end in margin.ends)
    return Plot(
        name="lots",
        title=f"{PLURALS[context.settings.factor].capitalize()} against the first",
        sentence="Whiskers are the 95 % limits of the cumulated ratio. A walk in one direction is a drift, although "
        "each step was small.",
        description="; ".join(f"{label} {value:.4g} %" for label, value in zip(lots.labels, values, strict=True)),
        x=Axis(label=f"{context.settings.factor}, in the order of use", categories=lots.labels),
        y=Axis(label=f"in % of {lots.labels[0]}"),
        layers=(
            Line(x=places, y=values, style="dotted"),
            Whiskers(
                x=places[1:],
                y=values[1:],
                low=tuple(100 * math.exp(each.low) for each in limits),
                high=tuple(100 * math.exp(each.high) for each in limits),
                label="cumulated ratio",
            ),
            Rule(at=100.0, label=lots.labels[0], style="solid"),
            *bounds,
        ),
    )
