"""Pictures: the two distributions with the cut-off, and the detection curve with single samples."""

from __future__ import annotations

import numpy as np

from validate.stats.screening import rates
from validate.studies.screening.counting import Counted, Counts
from validate.studies.screening.cutting import Cut, normal_height
from validate.studies.screening.samples import Group
from validate.studies.screening.tables import name_of
from validate.vocabulary.plot import Axis, Layer, Line, Plot, Points, Rule, Whiskers

MOST_POINTS = 1000
CURVE_POINTS = 81
HEIGHT = 0.45
"""Height of a normal curve, in steps from one group to the next."""
WIDE = 20.0
"""Ratio of the highest level to the lowest above which the axis is logarithmic."""


def pictures(counts: Counts, cut: Cut | None) -> tuple[Plot, ...]:
    """Those for which there are samples."""
    made = (_distributions(counts, cut), _curve(counts))
    return tuple(plot for plot in made if plot is not None)


def _distributions(counts: Counts, cut: Cut | None) -> Plot | None:
    """One row for each level: single readings below, the normal curve that the rule supposes above."""
    samples = counts.samples
    groups = [group for group in samples.groups if len(group.readings)]
    if cut is None or not groups:
        return None
    every = np.concatenate([group.readings for group in groups])
    low, high = float(every.min()), float(every.max())
    margin = 0.15 * (high - low) or 1.0
    places = np.linspace(low - margin, high + margin, CURVE_POINTS)
    layers: list[Layer] = []
    parts = [_readings(number, group) for number, group in enumerate(groups, start=1)]
    x, y, rows = (np.concatenate(column) for column in zip(*parts, strict=True))
    for number, group in enumerate(groups, start=1):
        if len(group.readings) > 2 and group.readings.min() < group.readings.max():
            height = number + HEIGHT * normal_height(group.readings, places)
            label = "normal curve of mean and SD" if number == 1 else ""
            layers.append(Line(x=tuple(places.tolist()), y=tuple(height.tolist()), label=label, accent=number > 1))
    layers.append(Points(x=tuple(x.tolist()), y=tuple(y.tolist()), rows=tuple(int(row) for row in rows),
                         label="single readings"))  # fmt: skip
    if cut.in_use is not None:
        label = "cut-off" if samples.settings.cut_off is None else "cut-off in use"
        layers.append(Rule(at=cut.in_use, axis="x", label=label, style="solid"))
        if samples.settings.cut_off is not None and cut.found is not None:
            layers.append(Rule(at=cut.found.value, axis="x", label="cut-off found here"))
    unit, target = samples.unit, samples.settings.target_level
    spoken = "; ".join(
        f"{name_of(group.level, target)}: {len(group.readings)} readings from {group.readings.min():.3g} to "
        f"{group.readings.max():.3g} {unit}"
        for group in groups
    )
    side = "left" if cut.sign > 0 else "right"
    return Plot(
        name="distributions",
        title="Readings by level, and the cut-off",
        sentence=f"What the cut-off leaves to its {side} of the samples at the target is missed; negative samples on "
        "its other side are suspect for nothing.",
        description=f"Single readings by level. {spoken}."
        + ("" if cut.in_use is None else f" Cut-off {cut.in_use:.3g} {unit}."),
        x=Axis(label=f"{'signal' if samples.settings.reads == 'signal' else 'content as read'} ({unit})"),
        y=Axis(label=f"level ({samples.job.method.unit})", categories=tuple(name_of(g.level, target) for g in groups)),
        layers=tuple(layers),
    )


def _readings(number: int, group: Group) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Readings just below the line of their level, spread a little so that equal ones are seen."""
    kept = group.frame.index[~np.isin(group.frame.index, group.censored)].to_numpy()[:MOST_POINTS]
    spread = 0.07 + 0.22 * ((np.arange(len(kept)) * 7) % 5) / 4
    return group.readings[:MOST_POINTS], number - spread, kept


def _curve(counts: Counts) -> Plot | None:
    """Share of suspects by level with exact limits, single samples at 0 and 100 %, and the fitted curve."""
    shown = [each for each in counts.with_analyte if each.n]
    if len(shown) < 2:
        return None
    levels = [float(each.group.level) for each in shown]
    wide = levels[-1] > WIDE * levels[0]
    negatives = counts.negatives
    if negatives is not None and negatives.n and not wide:
        shown, levels = [negatives, *shown], [0.0, *levels]
    limits = [rates(len(each.suspect), each.n).detected for each in shown]
    layers: list[Layer] = [_singles(shown, levels, wide)]
    curve = counts.curve
    if curve is not None:
        top, low = levels[-1], levels[0]
        places = np.geomspace(low, top, CURVE_POINTS) if wide else np.linspace(top / CURVE_POINTS, top, CURVE_POINTS)
        chances = 100 * curve.probability(places)
        layers.append(Line(x=tuple(places.tolist()), y=tuple(chances.tolist()), label="fitted curve", accent=True))
        for probability, at in ((50, curve.level_50), (95, curve.level_95)):
            if at is not None and at.value is not None and at.value <= 1.2 * top:
                layers.append(Rule(at=at.value, axis="x", label=f"{probability} %", style="dotted"))
    layers.append(
        Whiskers(
            x=tuple(levels),
            y=tuple(100 * each.estimate for each in limits),
            low=tuple(100 * each.low for each in limits),
            high=tuple(100 * each.high for each in limits),
            label="share, 95 % limits",
        )
    )
    spoken = "; ".join(f"level {each.group.level}: {len(each.suspect)} of {each.n}" for each in shown)
    return Plot(
        name="detection_curve",
        title="Share of suspect samples by level",
        sentence="Between the levels of 5 and 95 % the test decides by chance as well as by content.",
        description=f"Suspect samples. {spoken}.",
        x=Axis(label=f"level ({counts.samples.job.method.unit})", scale="log" if wide else "linear"),
        y=Axis(label="suspect (%)", low=-6.0, high=106.0),
        layers=tuple(layers),
    )


def _singles(shown: list[Counted], levels: list[float], wide: bool) -> Points:
    """Every sample once, at 0 or at 100 %, spread sideways around its level."""
    x: list[float] = []
    y: list[float] = []
    rows: list[int] = []
    step = 0.012 * (levels[-1] - levels[0])
    for level, each in zip(levels, shown, strict=True):
        for at, chosen in ((0.0, each.cleared), (100.0, each.suspect)):
            for number, row in enumerate(chosen[: MOST_POINTS // len(shown)]):
                away = (number % 5) - min(len(chosen) - 1, 4) / 2
                x.append(level * (1 + 0.03 * away) if wide else max(0.0, level + step * away))
                y.append(at)
                rows.append(row)
    return Points(x=tuple(x), y=tuple(y), rows=tuple(rows), label="single samples", mark="ring")
