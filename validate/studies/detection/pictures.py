"""Pictures: blanks and low levels with the critical value and the limit, and the share detected by level."""

from __future__ import annotations

import numpy as np

from validate.stats.detection import proportion
from validate.studies.detection.approaches import Bench
from validate.studies.detection.samples import Group
from validate.studies.detection.trials import TrialResults
from validate.vocabulary.finding import Finding
from validate.vocabulary.plot import Axis, Layer, Line, Plot, Points, Rule, Whiskers

MOST_POINTS = 2000
SPREAD = 0.5
"""Width over which the results of a level are spread, in steps of the axis."""
CURVE_POINTS = 81


def pictures(
    bench: Bench, counted: TrialResults, critical: Finding, gross_critical: float | None, lod: Finding
) -> tuple[Plot, ...]:
    """Those of the pictures for which there are samples."""
    made = (_responses(bench, counted, gross_critical), _shares(bench, counted, lod))
    return tuple(plot for plot in made if plot is not None)


def _responses(bench: Bench, counted: TrialResults, gross_critical: float | None) -> Plot | None:
    groups = [group for group in bench.samples.groups if group.n]
    if not groups:
        return None
    share = MOST_POINTS // len(groups)
    parts = [_thinned(place, group, share) for place, group in enumerate(groups, start=1)]
    x, y, rows = (np.concatenate(column).tolist() for column in zip(*parts, strict=True))
    layers: list[Layer] = [Points(x=tuple(x), y=tuple(y), rows=tuple(int(r) for r in rows), label="single results")]
    if gross_critical is not None:
        layers.append(Rule(at=gross_critical, label="critical value"))
    at = counted.decision.at
    if at is not None and at != gross_critical:
        layers.append(Rule(at=at, label="declared decision limit", style="solid"))
    unit = bench.samples.unit
    spoken = "; ".join(
        f"{'blanks' if group.level == '0' else f'level {group.level}'}: {group.n} results from "
        f"{group.values.min():.3g} to {group.values.max():.3g} {unit}"
        for group in groups
    )
    names = tuple("0 (blank)" if group.level == "0" else group.level for group in groups)
    response = "content as read" if bench.settings.response == "concentration" else "signal"
    return Plot(
        name="low_levels",
        title="Blanks and low levels",
        sentence="Blanks should lie below the critical value, samples at the claimed limit above it.",
        description=f"Single results by level. {spoken}."
        + ("" if gross_critical is None else f" Critical value {gross_critical:.3g} {unit}."),
        x=Axis(label=f"level ({bench.unit})", categories=names),
        y=Axis(label=f"{response} ({unit})"),
        layers=tuple(layers),
    )


def _shares(bench: Bench, counted: TrialResults, lod: Finding) -> Plot | None:
    """Share detected by level with exact limits, and the fitted curve where there is one."""
    if len(counted.levels) < 2:
        return None
    shown = [each for each in (counted.blanks, *counted.levels) if each is not None]
    limits = [proportion(each.detected, each.n, level=0.95) for each in shown]
    x = tuple(float(each.group.level) for each in shown)
    layers: list[Layer] = [
        Whiskers(
            x=x,
            y=tuple(100 * each.estimate for each in limits),
            low=tuple(100 * each.low for each in limits),
            high=tuple(100 * each.high for each in limits),
            label="detected, 95 % limits",
        ),
        Rule(at=95.0, label="95 %", style="dotted"),
    ]
    if counted.curve is not None:
        places = np.linspace(max(x) / CURVE_POINTS, max(x), CURVE_POINTS)
        chances = 100 * counted.curve.probability(places)
        layers.append(Line(x=tuple(places.tolist()), y=tuple(chances.tolist()), label="fitted curve", accent=True))
    if lod.value is not None and lod.value <= 1.2 * max(x):
        layers.append(Rule(at=lod.value, axis="x", label="claimed approach"))
    spoken = "; ".join(f"level {each.group.level}: {each.detected} of {each.n}" for each in shown)
    return Plot(
        name="detected_by_level",
        title="Share detected by level",
        sentence="The limit of detection is where the share reaches 95 %; the whiskers say how far the counts carry.",
        description=f"Detected samples. {spoken}.",
        x=Axis(label=f"level ({bench.unit})"),
        y=Axis(label="detected (%)", low=0.0, high=100.0),
        layers=tuple(layers),
    )


def _thinned(place: int, group: Group, most: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """At most `most` points around the place of their level, evenly through the sorted results."""
    x = place + SPREAD * (np.arange(group.n) / max(1, group.n - 1) - 0.5)
    rows = group.index.to_numpy()
    if group.n <= most:
        return x, group.values, rows
    kept = np.sort(np.argsort(group.values, kind="stable")[np.linspace(0, group.n - 1, most).astype(int)])
    return x[kept], group.values[kept], rows[kept]
