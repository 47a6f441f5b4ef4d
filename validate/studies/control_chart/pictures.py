"""Pictures: the chart with its limits, signals and changes; ranges; EWMA; CUSUM."""

from __future__ import annotations

import numpy as np

from validate.stats.control import Individuals
from validate.studies.control_chart.charting import Charted
from validate.vocabulary.plot import Axis, Band, Layer, Line, Plot, Points, Rule

MOST_RUNS = 2000
MOST_CHANGES = 12
RUNS = "run (in order of time)"


def pictures(charted: Charted) -> tuple[Plot, ...]:
    """None without a chart."""
    if charted.chart is None:
        return ()
    plots = [_chart(charted), _ranges(charted)]
    if charted.ewma is not None:
        plots.append(_ewma(charted))
    if charted.cusum is not None:
        plots.append(_cusum(charted))
    return tuple(plots)


def _first(charted: Charted) -> int:
    """The first run that is shown: the latest MOST_RUNS are."""
    return max(0, charted.record.n - MOST_RUNS)


def _places(charted: Charted) -> tuple[float, ...]:
    return tuple(float(i) for i in range(_first(charted) + 1, charted.record.n + 1))


def _cut(charted: Charted, values: np.ndarray) -> tuple[float, ...]:
    return tuple(map(float, values[_first(charted) :]))


def _base_band(charted: Charted) -> list[Layer]:
    """The base period as a band between the limits."""
    chosen, chart = np.flatnonzero(charted.record.base[_first(charted) :]), charted.chart
    if not len(chosen):
        return []
    ends = (float(_first(charted) + chosen[0] + 0.5), float(_first(charted) + chosen[-1] + 1.5))
    return [Band(x=ends, low=(chart.lower,) * 2, high=(chart.upper,) * 2)]


def _changes(charted: Charted) -> list[Layer]:
    """Changes of lot and calibration as upright lines; where there are many, of lots only."""
    changes = [change for change in charted.record.changes() if change.at >= _first(charted)]
    if len(changes) > MOST_CHANGES:
        changes = [change for change in changes if change.role == "lot"]
    if len(changes) > MOST_CHANGES:
        return []
    return [
        Rule(at=change.at + 0.5, axis="x", label=f"{change.role} {change.new}"[:24], style="dotted")
        for change in changes
    ]


def _points(charted: Charted) -> list[Layer]:
    """Runs without and with a signal."""
    record = charted.record
    first_rows = np.full(record.n, 0)
    first_rows[record.run_of[::-1]] = record.index.to_numpy()[::-1]
    signalled = set(charted.signalled) | set(charted.in_base)
    layers: list[Layer] = [Line(x=_places(charted), y=_cut(charted, charted.points), style="solid")]
    for label, mark, wanted in (("no signal", "dot", False), ("signal", "triangle", True)):
        chosen = [i for i in range(_first(charted), record.n) if (i in signalled) is wanted]
        if chosen:
            layers.append(
                Points(x=tuple(i + 1.0 for i in chosen), y=tuple(float(charted.points[i]) for i in chosen), label=label,
                       mark=mark, rows=tuple(int(first_rows[i]) for i in chosen))  # type: ignore[arg-type]
            )  # fmt: skip
    return layers


def _chart(charted: Charted) -> Plot:
    chart, record = charted.chart, charted.record
    single = isinstance(chart, Individuals)
    where = "certified value" if record.settings.limits.from_ == "certified value" else "mean"
    layers = [
        *_base_band(charted),
        *_changes(charted),
        Rule(at=chart.centre, label=where, style="solid"),
        Rule(at=chart.lower, label="−3 s"),
        Rule(at=chart.upper, label="+3 s"),
        Rule(at=chart.lower_warning, style="dotted", label="−2 s"),
        Rule(at=chart.upper_warning, style="dotted", label="+2 s"),
        *_points(charted),
    ]
    cut = f" The latest {MOST_RUNS} runs are shown." if _first(charted) else ""
    return Plot(
        name="chart",
        title="Single values of the control material" if single else "Means of the control material",
        sentence=f"Shaded: the base period. Triangles: runs with a signal. Upright lines: changes.{cut}",
        description=f"{record.n} runs, centre {chart.centre:.4g}, limits {chart.lower:.4g} to {chart.upper:.4g} "
        f"{record.unit}, {len(charted.signalled)} runs with a signal after the base period.",
        x=Axis(label=RUNS),
        y=Axis(label=f"{'value' if single else 'mean of the run'} ({record.unit})"),
        layers=tuple(layers),
    )


def _ranges(charted: Charted) -> Plot:
    chart, record = charted.chart, charted.record
    if isinstance(chart, Individuals):
        title, label = "Moving ranges", "moving range"
        values, centre, ends = (
            np.concatenate([[np.nan], chart.moving_ranges]),
            chart.mean_moving_range,
            (chart.moving_range_upper,),
        )
    else:
        title, label = "Ranges within runs", "range"
        values, centre = chart.ranges, chart.mean_range
        ends = (chart.range_upper,) if chart.range_lower == 0 else (chart.range_lower, chart.range_upper)
    shown = [
        (place, float(value))
        for place, value in zip(_places(charted), values[_first(charted) :], strict=True)
        if value == value
    ]
    x, y = tuple(place for place, _ in shown), tuple(value for _, value in shown)
    beyond = int(np.sum(values[~np.isnan(values)] > ends[-1]))
    return Plot(
        name="ranges",
        title=title,
        sentence="How much neighbouring runs differ."
        if isinstance(chart, Individuals)
        else "How much the readings of one run differ.",
        description=f"Mean {centre:.4g}, upper limit {ends[-1]:.4g} {record.unit}; {beyond} beyond it.",
        x=Axis(label=RUNS),
        y=Axis(label=f"{label} ({record.unit})", low=0.0),
        layers=(
            Rule(at=centre, label="mean", style="solid"),
            *(Rule(at=end, label="limit") for end in ends),
            Line(x=x, y=y),
            Points(x=x, y=y),
        ),
    )


def _ewma(charted: Charted) -> Plot:
    found, record = charted.ewma, charted.record
    x, z = _places(charted), _cut(charted, found.z)
    return Plot(
        name="ewma",
        title="EWMA",
        sentence="Each point averages the past with falling weight: a small lasting shift adds up and passes a limit.",
        description=f"Weight {record.settings.ewma.weight:g}; {len(found.signals)} runs beyond the limits.",
        x=Axis(label=RUNS),
        y=Axis(label=f"weighted average ({record.unit})"),
        layers=(
            *_changes(charted),
            Rule(at=found.centre, label="centre", style="solid"),
            Rule(at=float(found.lower[-1]), label="lower"),
            Rule(at=float(found.upper[-1]), label="upper"),
            Line(x=x, y=z, accent=True),
            Points(x=x, y=z),
        ),
    )


def _cusum(charted: Charted) -> Plot:
    found, record = charted.cusum, charted.record
    x = _places(charted)
    return Plot(
        name="cusum",
        title="CUSUM",
        sentence="Sums of deviations above (up) and below (down) the centre; a shift began where its sum left zero.",
        description=f"Decision interval {found.limit:.4g} {record.unit}; {len(found.signals)} runs beyond it.",
        x=Axis(label=RUNS),
        y=Axis(label=f"sum of deviations ({record.unit})"),
        layers=(
            *_changes(charted),
            Rule(at=found.limit, label="limit"),
            Rule(at=-found.limit, label="limit"),
            Line(x=x, y=_cut(charted, found.above), label="above"),
            Line(x=x, y=_cut(charted, -found.below), label="below", style="dashed"),
        ),
    )
