"""Pictures of a round: sorted scores, density with results, pairs of samples, uncertainty against deviation."""

from __future__ import annotations

import math

import numpy as np

from validate.stats import robust
from validate.studies.proficiency_round.assigning import Scale
from validate.studies.proficiency_round.scoring import Scores
from validate.studies.proficiency_round.submitted import Submitted
from validate.vocabulary.plot import Axis, Bars, Layer, Line, Plot, Points, Rule

MOST_PICTURED = 12
MOST_NAMED, MOST_IN_A_ROW = 150, 34
"""Laboratories whose codes stand under their bars, and how many in one picture: more codes would run together."""
ENDS = 5.0
"""Scores beyond ±5 stand at the ends of the histogram."""
BIN = 0.5
ELLIPSE = math.sqrt(5.991464547107979)
"""√χ² of 2 degrees of freedom at 95 %."""


def pictures(sent: Submitted, scales: tuple[Scale, ...], scores: Scores) -> tuple[Plot, ...]:
    """The pictures of up to 12 targets."""
    found: list[Plot | None] = []
    for i, scale in enumerate(scales[:MOST_PICTURED]):
        found += [*_sorted(sent, scale, scores, i), _density(sent, scale, i), _uncertainty(sent, scale, scores, i)]
    found += _pairs(sent, scales[:MOST_PICTURED])
    return tuple(plot for plot in found if plot is not None)


def _limits(axis: str = "y") -> tuple[Rule, ...]:
    return (
        Rule(at=2.0, axis=axis, style="dotted"),
        Rule(at=-2.0, axis=axis, style="dotted"),
        Rule(at=3.0, axis=axis),
        Rule(at=-3.0, axis=axis),
    )


def _sorted(sent: Submitted, scale: Scale, scores: Scores, i: int) -> list[Plot]:
    """Bars in ascending order; more laboratories than names fit under go into pictures one below the other."""
    values = scores.deciding(i)
    order = np.argsort(values, kind="stable")
    order = order[~np.isnan(values[order])]
    if not len(order):
        return []
    outside = int(np.count_nonzero(np.abs(values[order]) > 3))
    told = f"{outside} of {len(order)} laboratories {'lies' if outside == 1 else 'lie'} beyond ±3; bars end at ±6."
    count = -(-len(order) // MOST_IN_A_ROW) if len(order) <= MOST_NAMED else 1
    return [
        _bars(sent, scale, scores, i, part, f"{k} of {count}" if count > 1 else "", told)
        for k, part in enumerate(np.array_split(order, count), start=1)
    ]


def _bars(sent: Submitted, scale: Scale, scores: Scores, i: int, order: np.ndarray, part: str, told: str) -> Plot:
    symbol, label, values = scores.classifying[i], scale.target.label, scores.deciding(i)[order]
    names = tuple(sent.laboratories[lab] for lab in order) if len(order) <= MOST_IN_A_ROW else ()
    return Plot(
        name=f"sorted-{i + 1}" + (f"-{part[0]}" if part else ""),
        title=f"Scores on {label}" + (f", part {part}" if part else ""),
        sentence=told,
        description=f"Bars of {symbol} of {len(order)} laboratories in ascending order.",
        x=Axis(label="laboratory" if names else "laboratories in ascending order", categories=names),
        y=Axis(label=symbol, low=-6.0, high=6.0),
        layers=(
            Bars(x=tuple(float(n) for n in range(1, len(order) + 1)), y=tuple(np.clip(values, -6, 6).tolist())),
            *_limits(),
        ),
    )


def _outside(count: int) -> str:
    if not count:
        return "."
    return "; 1 result lies outside the picture." if count == 1 else f"; {count} results lie outside the picture."


def _density(sent: Submitted, scale: Scale, i: int) -> Plot | None:
    modes, values = scale.modes, sent.numbers(i)
    if modes is None or scale.sigma is None or len(values) < 3:
        return None
    centre = modes.modes[0].location
    low, high = centre - 8 * scale.sigma, centre + 8 * scale.sigma
    keep = (modes.grid >= low) & (modes.grid <= high)
    top = float(modes.density.max())
    layers: list[Layer] = [Line(x=tuple(modes.grid[keep].tolist()), y=tuple(modes.density[keep].tolist()), accent=True)]
    inside = values[(values >= low) & (values <= high)]
    if len(inside) <= 2000:
        layers.append(Points(x=tuple(np.sort(inside).tolist()), y=(-0.06 * top,) * len(inside), mark="ring"))
    if scale.chosen.value is not None:
        layers.append(Rule(at=scale.chosen.value, axis="x", label="x_pt"))
    beyond = len(values) - len(inside)
    return Plot(
        name=f"density-{i + 1}",
        title=f"Where the results on {scale.target.label} lie",
        sentence="One hump speaks for one population, several for several. The curve is a kernel density of bandwidth "
        f"0.75 σ_pt{_outside(beyond)}",
        description=f"Kernel density with {len(modes.modes)} maxima and the results as rings below it.",
        x=Axis(label=f"result, {scale.target.unit}"),
        y=Axis(label="density", low=-0.12 * top, high=1.1 * top),
        layers=tuple(layers),
    )


def _uncertainty(sent: Submitted, scale: Scale, scores: Scores, i: int) -> Plot | None:
    known = ~np.isnan(sent.U[i]) & ~np.isnan(scores.D[i])
    if np.count_nonzero(known) < 3 or scale.sigma is None:
        return None
    deviation, expanded = scores.D[i][known], sent.U[i][known]
    reach, ceiling = 5 * scale.sigma, 6 * scale.sigma
    inside = (np.abs(deviation) <= reach) & (expanded <= ceiling)
    U = 2 * (scale.chosen.u or 0.0)
    x = np.linspace(U, reach, 60) if reach > U else np.array([reach])
    edge = np.sqrt(np.maximum(x**2 - U**2, 0))
    return Plot(
        name=f"uncertainty-{i + 1}",
        title=f"Deviation and reported uncertainty on {scale.target.label}",
        sentence="Above the lines the laboratory's own uncertainty covers its deviation (|E_n| ≤ 1)"
        + (_outside(int(len(inside) - inside.sum()))),
        description="Reported expanded uncertainty against deviation from the assigned value.",
        x=Axis(label=f"D = x − x_pt, {scale.target.unit}", low=-reach, high=reach),
        y=Axis(label=f"U, {scale.target.unit}", low=0.0, high=ceiling),
        layers=(
            Points(x=tuple(deviation[inside].tolist()), y=tuple(expanded[inside].tolist())),
            Line(x=tuple(x.tolist()), y=tuple(edge.tolist()), label="E_n = 1"),
            Line(x=tuple((-x).tolist()), y=tuple(edge.tolist())),
        ),
    )


def _pairs(sent: Submitted, scales: tuple[Scale, ...]) -> list[Plot]:
    """Two samples of one measurand against each other, with an ellipse that holds 95 % of sound laboratories."""
    found = []
    for i, first in enumerate(scales):
        for j in range(i + 1, len(scales)):
            second = scales[j]
            if first.target.measurand == second.target.measurand and first.scored and second.scored:
                plot = _pair(sent, first, second, i, j)
                if plot is not None:
                    found.append(plot)
    return found[:MOST_PICTURED]


def _pair(sent: Submitted, first: Scale, second: Scale, i: int, j: int) -> Plot | None:
    both = ~np.isnan(sent.results[i]) & ~np.isnan(sent.results[j])
    if np.count_nonzero(both) < 5:
        return None
    a = (sent.results[i][both] - first.chosen.value) / first.sigma
    b = (sent.results[j][both] - second.chosen.value) / second.sigma
    along, across = (robust.algorithm_a(np.sort(way) / math.sqrt(2)) for way in (a + b, a - b))
    layers: list[Layer] = [
        Points(x=tuple(np.clip(a, -6, 6).tolist()), y=tuple(np.clip(b, -6, 6).tolist()), mark="ring")
    ]
    layers += [Rule(at=0.0, axis="x", style="dotted"), Rule(at=0.0, style="dotted")]
    layers.append(Line(x=(-6.0, 6.0), y=(-6.0, 6.0), style="dashed"))
    if along.sd and across.sd:
        turn = np.linspace(0, 2 * math.pi, 121)
        u, v = along.mean + ELLIPSE * along.sd * np.cos(turn), across.mean + ELLIPSE * across.sd * np.sin(turn)
        layers.append(
            Line(x=tuple(((u + v) / math.sqrt(2)).tolist()), y=tuple(((u - v) / math.sqrt(2)).tolist()), accent=True)
        )
    return Plot(
        name=f"pair-{i + 1}-{j + 1}",
        title=f"{first.target.label} against {second.target.label}",
        sentence="Along the dashed line lie laboratories that are off on both samples alike (bias); across it, "
        "those whose results do not repeat. Scores beyond ±6 stand at the edge.",
        description="Scores of two samples against each other with a robust 95 % ellipse.",
        x=Axis(label=f"z on {first.target.label}", low=-6.5, high=6.5),
        y=Axis(label=f"z on {second.target.label}", low=-6.5, high=6.5),
        layers=tuple(layers),
    )


def background(label: str, values: tuple[float, ...], symbol: str) -> Plot:
    """The scores of all laboratories as a histogram, for a page that shows one of them."""
    edges = np.arange(-ENDS, ENDS + BIN / 2, BIN)
    counts, _ = np.histogram(np.clip(values, -ENDS + 1e-9, ENDS - 1e-9), edges)
    return Plot(
        name=f"background-{label}",
        title=f"Your score on {label} among all",
        sentence="Bars: how many laboratories; the line is yours. Scores beyond ±5 stand at the ends.",
        description="Histogram of the scores of all laboratories; a line marks one of them.",
        x=Axis(label=symbol, low=-ENDS, high=ENDS),
        y=Axis(label="laboratories", low=0.0),
        layers=(Bars(x=tuple((edges[:-1] + BIN / 2).tolist()), y=tuple(counts.astype(float).tolist())), *_limits("x")),
    )
