"""Plot data: results by group, components, standard deviation against level."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from validate.stats.precision_function import PrecisionFunction
from validate.studies.precision.context import LevelContext
from validate.studies.precision.groups import cell_codes
from validate.studies.precision.model import Components
from validate.studies.precision.tables import FORM_WORDS, Estimated
from validate.studies.precision.words import plural, shown
from validate.vocabulary.evaluation import Remark
from validate.vocabulary.plot import Axis, Bars, Line, Plot, Points, Rule

MOST_POINTS = 2000
MOST_GROUPS = 60
MOST_PICTURES = 6
MOST_BARS = 24
BINS = 40
CURVE_POINTS = 60
INNER_WIDTH = 0.7
"""Share of an outer group's place over which its inner groups are spread."""
STYLES = ("solid", "dashed", "dotted")


def group_plots(contexts: tuple[LevelContext, ...], estimated: Estimated) -> tuple[Plot, ...]:
    """Results by outer group, a picture for each of the first levels; binned where there are too many."""
    chosen = [context for context in contexts if context.data.level in estimated][:MOST_PICTURES]
    return tuple(_group_plot(context, estimated[context.data.level]) for context in chosen)


def left_out(estimated: Estimated) -> tuple[Remark, ...]:
    """Says which pictures were not drawn."""
    told = []
    if len(estimated) > MOST_PICTURES:
        told.append(f"results by group are drawn for the first {MOST_PICTURES} of {len(estimated)} levels")
    if sum(len(found.rows) for found in estimated.values()) > MOST_BARS:
        told.append("the components are too many for bars; they stand in their table")
    return tuple(Remark(kind="note", text=text) for text in told)


def _group_plot(context: LevelContext, found: Components) -> Plot:
    data, outer = context.data, context.settings.design.outer
    at = "" if data.level is None else f" at level {data.level}"
    name = "results" if data.level is None else f"results-{data.level}"
    unit = context.job.method.unit
    many = data.n > MOST_POINTS or data.count(outer.column) > MOST_GROUPS
    words = f"{found.n} results in {found.groups} {plural(outer.called)}"
    common = {"name": name, "title": f"Results by {outer.called}{at}" if not many else f"Distribution of results{at}"}
    if many:
        counts, edges = np.histogram(data.values, bins=BINS)
        return Plot(
            **common,
            sentence=f"Too many to draw singly: {words}, counted in {BINS} classes.",
            description=f"Bars of the number of results in {BINS} classes; {words}.",
            x=Axis(label=f"result, {unit}"),
            y=Axis(label="number of results", low=0.0),
            layers=(
                Bars(x=tuple(((edges[:-1] + edges[1:]) / 2).tolist()), y=tuple(map(float, counts))),
                Rule(at=found.mean, axis="x", label="general mean"),
            ),
        )
    codes = data.codes[outer.column]
    means = np.bincount(codes, weights=data.values) / np.bincount(codes)
    positions = np.arange(1, means.size + 1, dtype=float)
    return Plot(
        **common,
        sentence=f"Compare the scatter of dots within a {outer.called} with that of the squares, the means of "
        f"{plural(outer.called)}.{_inner_words(context)}",
        description=f"{words}; means of {plural(outer.called)} from {means.min():.4g} to {means.max():.4g} {unit}, "
        f"general mean {found.mean:.4g} {unit}.",
        x=Axis(label=outer.called, categories=data.labels[outer.column]),
        y=Axis(label=f"result, {unit}"),
        layers=(
            Points(
                x=tuple((codes + 1.0 + _offsets(context)).tolist()),
                y=tuple(data.values.tolist()),
                label="single results",
                rows=tuple(int(row) for row in data.rows),
            ),
            Points(
                x=tuple(positions.tolist()), y=tuple(means.tolist()), label=f"mean of a {outer.called}", mark="square"
            ),
            Rule(at=found.mean, label="general mean"),
        ),
    )


def _inner_words(context: LevelContext) -> str:
    outer, *inner = context.settings.design.factors
    return f" Within a {outer.called}, dots side by side are different {plural(inner[0].called)}." if inner else ""


def _offsets(context: LevelContext) -> np.ndarray:
    """Moves results of different inner groups apart within their outer group's place."""
    data, (outer, *inner) = context.data, context.settings.design.factors
    if not inner:
        return np.zeros(data.n)
    codes = data.codes[outer.column]
    cells = cell_codes(data, (outer.column, *(factor.column for factor in inner)))
    of_cell = np.zeros(int(cells.max()) + 1, dtype=np.intp)
    of_cell[cells] = codes
    first, held = np.searchsorted(of_cell, np.arange(codes.max() + 1)), np.bincount(of_cell)
    return ((cells - first[codes] + 1) / (held[codes] + 1) - 0.5) * INNER_WIDTH


def components_plot(estimated: Estimated, unit: str) -> tuple[Plot, ...]:
    """Bars of the components' standard deviations."""
    lines = [(level, line) for level, found in estimated.items() for line in found.rows]
    if not lines or len(lines) > MOST_BARS:
        return ()
    several = len(estimated) > 1
    labels = tuple(f"{line.title}, {shown(level)}" if several else line.title for level, line in lines)
    heights = tuple(line.sd for _, line in lines)
    largest = labels[int(np.argmax(heights))]
    plot = Plot(
        name="components",
        title="Where the scatter comes from",
        sentence=f"Standard deviations of the components; they add as squares. The largest is that of {largest}.",
        description="Bars: "
        + "; ".join(f"{label} {height:.3g} {unit}" for label, height in zip(labels, heights, strict=True)),
        x=Axis(label="component", categories=labels),
        y=Axis(label=f"standard deviation, {unit}", low=0.0),
        layers=(Bars(x=tuple(float(i) for i in range(1, len(lines) + 1)), y=heights),),
    )
    return (plot,)


def level_plot(
    estimated: Estimated, fits: Mapping[str, tuple[PrecisionFunction, ...]], words: Mapping[str, str], unit: str
) -> tuple[Plot, ...]:
    """Standard deviations against the general mean, with the fitted forms of s_r."""
    if not any(fits.values()):
        return ()
    means = tuple(found.mean for found in estimated.values())
    sds = {"s_r": tuple(found.s_r.value for found in estimated.values())}
    for name in next(iter(estimated.values())).totals:
        sds[name] = tuple(found.totals[name].value for found in estimated.values())
    curve = np.linspace(min(means), max(means), CURVE_POINTS)
    marks = ("dot", "ring", "square", "triangle")
    points = tuple(
        Points(x=means, y=values, label=words[name], mark=mark)  # type: ignore[arg-type]
        for (name, values), mark in zip(sds.items(), marks, strict=False)
    )
    lines = tuple(
        Line(x=tuple(curve.tolist()), y=tuple(fit.at(curve).tolist()), label=FORM_WORDS[fit.form], style=style)  # type: ignore[arg-type]
        for fit, style in zip(fits["s_r"], STYLES, strict=False)
    )
    plot = Plot(
        name="levels",
        title="Standard deviation against level",
        sentence="The lines are the three forms of ISO 5725-2 fitted to the repeatability standard deviations; "
        "see whether the scatter grows with the level.",
        description="; ".join(f"{words[name]} from {min(v):.3g} to {max(v):.3g} {unit}" for name, v in sds.items()),
        x=Axis(label=f"general mean, {unit}"),
        y=Axis(label=f"standard deviation, {unit}", low=0.0),
        layers=(*points, *lines),
    )
    return (plot,)
