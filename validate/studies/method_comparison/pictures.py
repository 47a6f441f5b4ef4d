"""Pictures: both methods against each other with the line, and the differences with their limits."""

from __future__ import annotations

import numpy as np

from validate.stats.comparison import BlandAltman
from validate.studies.method_comparison.lines import LineFound
from validate.studies.method_comparison.samples import Samples
from validate.vocabulary.plot import Axis, Band, Layer, Line, Plot, Points, Rule

MOST_POINTS = 2000
CURVE_POINTS = 41


def pictures(samples: Samples, line: LineFound, agreement: BlandAltman | str) -> tuple[Plot, ...]:
    """None without samples."""
    if samples.n < 2:
        return ()
    plots = [_scatter(samples, line)]
    if isinstance(agreement, BlandAltman):
        plots.append(_differences(samples, agreement))
    return tuple(plots)


def _scatter(samples: Samples, line: LineFound) -> Plot:
    x, y, unit = samples.x, samples.y, samples.unit
    low, high = float(x.min()), float(x.max())
    layers: list[Layer] = [Line(x=(low, high), y=(low, high), style="dashed", label="equal")]
    told = f"No line: {line.reason}."
    if line.fit is not None:
        places = np.geomspace(low, high, CURVE_POINTS) if samples.proportional else np.array([low, high])
        power = np.exp(line.fit.intercept) * places**line.fit.slope if samples.proportional else None
        heights = line.fit.intercept + line.fit.slope * places if power is None else power
        layers.append(Line(x=tuple(places.tolist()), y=tuple(heights.tolist()), label=line.by, accent=True))
        told = f"{line.by} line: slope {line.fit.slope:.4g}, intercept {line.fit.intercept:.4g}."
    if samples.job.method.limit is not None:
        layers += [Rule(at=samples.job.method.limit, axis=axis, label="limit" if axis == "y" else "", style="dotted")
                   for axis in ("x", "y")]  # type: ignore[arg-type] # fmt: skip
    layers.append(_points(samples, x, y))
    scale = "log" if samples.proportional else "linear"
    return Plot(
        name="comparison",
        title="This method against the reference method",
        sentence="Each point is one sample. Points on the dashed line would agree; the full line shows where they lie.",
        description=f"{samples.n} samples from {low:.4g} to {high:.4g} {unit} by the reference. {told}",
        x=Axis(label=f"reference method ({unit})", scale=scale),  # type: ignore[arg-type]
        y=Axis(label=f"this method ({unit})", scale=scale),  # type: ignore[arg-type]
        layers=tuple(layers),
    )


def _differences(samples: Samples, agreement: BlandAltman) -> Plot:
    x, y, unit = samples.x, samples.y, samples.unit
    differences = np.asarray(agreement.differences)
    heights = np.exp(differences) if agreement.ratio else differences
    middle = np.sqrt(x * y) if agreement.ratio else (x + y) / 2
    ends = (float(middle.min()), float(middle.max()))
    what = "ratio" if agreement.ratio else "difference"
    layers: list[Layer] = [
        Band(x=ends, low=(limits.low,) * 2, high=(limits.high,) * 2)
        for limits in (agreement.lower_limits, agreement.upper_limits)
    ]
    layers += [
        Rule(at=1.0 if agreement.ratio else 0.0, style="dotted", label="equal"),
        Rule(at=agreement.lower, label=_labelled("lower", agreement.lower)),
        Rule(at=agreement.upper, label=_labelled("upper", agreement.upper)),
        Rule(at=agreement.bias, style="solid", label=_labelled("mean", agreement.bias)),
        _points(samples, middle, heights),
    ]
    return Plot(
        name="differences",
        title="Ratios of single samples" if agreement.ratio else "Differences of single samples",
        sentence="About 95 % of single results lie between the dashed limits; the bands hold these limits with 95 % "
        "confidence. A slope or a funnel from left to right would mean that one figure does not fit all contents.",
        description=f"Mean {what} {agreement.bias:.4g}, limits of agreement {agreement.lower:.4g} to "
        f"{agreement.upper:.4g}{'' if agreement.ratio else ' ' + unit}, {samples.n} samples.",
        x=Axis(label=f"{'geometric ' if agreement.ratio else ''}mean of both methods ({unit})",
               scale="log" if agreement.ratio and ends[1] > 10 * ends[0] else "linear"),
        y=Axis(label="this method / reference" if agreement.ratio else f"this method − reference ({unit})"),
        layers=tuple(layers),
    )  # fmt: skip


def _points(samples: Samples, x: np.ndarray, y: np.ndarray) -> Points:
    """At most MOST_POINTS samples, evenly through their order; file rows where each sample has one row."""
    chosen = np.arange(samples.n)
    if samples.n > MOST_POINTS:
        chosen = np.linspace(0, samples.n - 1, MOST_POINTS).astype(int)
    rows = tuple(int(samples.index[i]) for i in chosen) if len(samples.index) == samples.n else ()
    return Points(x=tuple(map(float, x[chosen])), y=tuple(map(float, y[chosen])), rows=rows, label="samples")


def _labelled(word: str, value: float) -> str:
    return f"{word} {value:.3g}".replace("-", "−")
