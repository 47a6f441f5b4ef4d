"""Plot data: results by unit in the filling order, and occasion means over time."""

from __future__ import annotations

import numpy as np

from validate.stats.homogeneity import Homogeneity
from validate.studies.homogeneity.context import Context
from validate.vocabulary.finding import Finding
from validate.vocabulary.plot import Axis, Band, Line, Plot, Points, Rule, Whiskers

MOST_UNITS = 60


def plots(context: Context, found: Homogeneity, findings: tuple[Finding, ...]) -> tuple[Plot, ...]:
    return (*_units(context, found, findings), *_occasions(context))


def _units(context: Context, found: Homogeneity, findings: tuple[Finding, ...]) -> tuple[Plot, ...]:
    occasion = context.samples.first
    labels, means, places = occasion.labels, occasion.unit_means, occasion.unit_order
    if len(labels) > MOST_UNITS:
        return ()
    rank = np.arange(len(labels)) if places is None else np.argsort(np.argsort(places, kind="stable"))
    position = {label: float(rank[i]) + 1 for i, label in enumerate(labels)}
    ordered = tuple(label for _, label in sorted((position[label], label) for label in labels))
    x = np.asarray([position[label] for label in labels])
    along = "in the filling order" if places is not None else "in the order of the table"
    layers = [
        Points(
            x=tuple(position[u] for u in occasion.units),
            y=tuple(occasion.values.tolist()),
            label="single results",
            rows=tuple(int(row) for row in occasion.rows),
        ),
        Points(x=tuple(x.tolist()), y=tuple(means.tolist()), label="mean of a unit", mark="square"),
        Rule(at=found.mean, label="general mean", style="solid"),
    ]
    if context.sigma.value is not None:
        for sign, word in ((1, "mean + 0.3·σ_pt"), (-1, "mean − 0.3·σ_pt")):
            layers.append(Rule(at=found.mean + sign * found.iso_critical, label=word))
    if places is not None and any(f.name == "filling_trend" for f in findings):
        slope, start = np.polynomial.polynomial.polyfit(places, means, 1)[::-1]
        way = sorted(zip(x.tolist(), (start + slope * places).tolist(), strict=True))
        layers.append(
            Line(x=tuple(at for at, _ in way), y=tuple(y for _, y in way), label="trend", style="dotted", accent=True)
        )
    plot = Plot(
        name="units",
        title="Results by unit",
        sentence=f"Compare the scatter of the squares (units, {along}) with that of the dots within a unit; "
        "the dashed lines stand 0.3·σ_pt from the mean.",
        description=f"{found.n} results of {found.n_units} units, {along}; unit means from {means.min():.4g} to "
        f"{means.max():.4g} {context.unit}, general mean {found.mean:.4g} {context.unit}.",
        x=Axis(label=f"unit, {along}", categories=ordered),
        y=Axis(label=f"result, {context.unit}"),
        layers=tuple(layers),
    )
    return (plot,)


def _occasions(context: Context) -> tuple[Plot, ...]:
    occasions = context.samples.occasions
    if len(occasions) < 2 or context.sigma.value is None:
        return ()
    days = tuple(o.days for o in occasions)
    means = tuple(float(o.unit_means.mean()) for o in occasions)
    errors = tuple(
        float(o.unit_means.std(ddof=1)) / len(o.labels) ** 0.5 if len(o.labels) > 1 else 0.0 for o in occasions
    )
    half = 0.3 * context.sigma.value
    ends = (days[0], days[-1])
    plot = Plot(
        name="occasions",
        title="Means over time",
        sentence="The band is 0.3·σ_pt around the first mean; whiskers are one standard error of each mean.",
        description="; ".join(f"day {d:g}: {m:.4g} {context.unit}" for d, m in zip(days, means, strict=True)),
        x=Axis(label="days since the first measurement"),
        y=Axis(label=f"mean of the units, {context.unit}"),
        layers=(
            Band(x=ends, low=(means[0] - half,) * 2, high=(means[0] + half,) * 2, label="first mean ± 0.3·σ_pt"),
            Whiskers(
                x=days,
                y=means,
                low=tuple(m - e for m, e in zip(means, errors, strict=True)),
                high=tuple(m + e for m, e in zip(means, errors, strict=True)),
                label="mean of an occasion",
            ),
        ),
    )
    return (plot,)
