"""Plot data: results by laboratory, Youden pairs, standard deviation against level."""

from __future__ import annotations

import numpy as np

from validate.studies.collaborative_trial.context import Context
from validate.studies.collaborative_trial.level_data import LevelData
from validate.studies.collaborative_trial.settings import SPLIT
from validate.studies.collaborative_trial.tables import FORM_WORDS, Estimated, Fits
from validate.vocabulary.plot import Axis, Line, Plot, Points, Rule

MOST_PICTURES = 8
MOST_LABORATORIES = 60
CURVE_POINTS = 60
STYLES = ("solid", "dashed", "dotted")


def by_laboratory(contexts: tuple[Context, ...], estimated: Estimated) -> tuple[Plot, ...]:
    """Results by laboratory, a picture for each of the first levels; pairs instead where levels are split."""
    chosen = [c for c in contexts if c.level in estimated and len(c.data.labels) <= MOST_LABORATORIES][:MOST_PICTURES]
    if contexts and contexts[0].settings.design.kind == SPLIT:
        return tuple(_pairs(c, *c.data.pairs()) for c in chosen)
    plots = [_results(c, estimated[c.level].mean) for c in chosen]
    for context in chosen:
        pair = _duplicates(context.data)
        if pair is not None:
            plots.append(_pairs(context, *pair))
    return tuple(plots)


def _results(context: Context, mean: float) -> Plot:
    data = context.data
    labels = data.labels
    place = {lab: float(i) for i, lab in enumerate(labels, start=1)}
    means = [float(data.values[data.laboratories == lab].mean()) for lab in labels]
    return Plot(
        name=f"results-{context.level}",
        title=f"Results by laboratory at level {context.level}",
        sentence="Compare the scatter of dots within a laboratory with that of the squares, their means.",
        description=f"{data.values.size} results of {len(labels)} laboratories; means from {min(means):.4g} to "
        f"{max(means):.4g} {context.unit}, general mean {mean:.4g} {context.unit}.",
        x=Axis(label="laboratory", categories=labels),
        y=Axis(label=f"result, {context.unit}"),
        layers=(
            Points(
                x=tuple(place[lab] for lab in data.laboratories),
                y=tuple(data.values.tolist()),
                label="single results",
                rows=tuple(int(row) for row in data.rows),
            ),
            Points(x=tuple(place.values()), y=tuple(means), label="mean of a laboratory", mark="square"),
            Rule(at=mean, label="general mean"),
        ),
    )


def _duplicates(data: LevelData) -> tuple[tuple[str, ...], np.ndarray, np.ndarray, tuple[str, str]] | None:
    """First and second result where every laboratory has exactly two: duplicates as Youden pairs."""
    groups = [data.values[data.laboratories == lab] for lab in data.labels]
    if data.run is not None or any(group.size != 2 for group in groups):
        return None
    pairs = np.asarray(groups)
    return data.labels, pairs[:, 0], pairs[:, 1], ("first result", "second result")


def _pairs(
    context: Context, labels: tuple[str, ...], first: np.ndarray, second: np.ndarray, names: tuple[str, str]
) -> Plot:
    shift = float((second - first).mean())
    ends = (float(first.min()), float(first.max()))
    both_vary = np.ptp(first) > 0 and np.ptp(second) > 0
    told = f"correlation {np.corrcoef(first, second)[0, 1]:.2f}" if both_vary else "no correlation can be given"
    return Plot(
        name=f"pairs-{context.level}",
        title=f"Youden pairs at level {context.level}",
        sentence="Each dot is a laboratory. Along the line laboratories differ in level; across it their results do "
        "not repeat.",
        description=f"{len(labels)} laboratories, {names[0]} against {names[1]}; {told}.",
        x=Axis(label=f"{names[0]}, {context.unit}"),
        y=Axis(label=f"{names[1]}, {context.unit}"),
        layers=(
            Points(x=tuple(first.tolist()), y=tuple(second.tolist()), label="a laboratory"),
            Rule(at=float(first.mean()), axis="x", label="mean"),
            Rule(at=float(second.mean()), label="mean"),
            Line(x=ends, y=tuple(end + shift for end in ends), label="slope 1", style="dotted", accent=True),
        ),
    )


def against_level(estimated: Estimated, fits: Fits, unit: str) -> tuple[Plot, ...]:
    """s_r and s_R against the general mean, with the forms fitted to s_R."""
    if not any(fits.values()):
        return ()
    means = tuple(found.mean for found in estimated.values())
    sds = {
        "s_r": tuple(found.s_r.value for found in estimated.values()),
        "s_R": tuple(found.s_R.value for found in estimated.values()),
    }
    curve = np.linspace(min(m for m in means if m > 0), max(means), CURVE_POINTS)
    points = tuple(
        Points(x=means, y=sds[name], label=word, mark=mark)  # type: ignore[arg-type]
        for name, word, mark in (("s_r", "repeatability", "dot"), ("s_R", "reproducibility", "square"))
    )
    lines = tuple(
        Line(x=tuple(curve.tolist()), y=tuple(fit.at(curve).tolist()), label=FORM_WORDS[fit.form], style=style)  # type: ignore[arg-type]
        for fit, style in zip(fits["s_R"], STYLES, strict=False)
    )
    plot = Plot(
        name="levels",
        title="Standard deviation against level",
        sentence="The lines are the three forms fitted to the reproducibility standard deviations; see whether scatter "
        "grows with the level.",
        description="; ".join(
            f"{name} from {min(v):.3g} to {max(v):.3g} {unit}".removesuffix(" 1") for name, v in sds.items()
        ),
        x=Axis(label=f"general mean, {unit}"),
        y=Axis(label=f"standard deviation, {unit}", low=0.0),
        layers=(*points, *lines),
    )
    return (plot,)
