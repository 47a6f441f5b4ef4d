"""The charts: centre, limits, signals by the declared rules, EWMA and CUSUM."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from validate.stats.control import (
    Cusum,
    Ewma,
    Individuals,
    MeanAndRange,
    Signal,
    cusum,
    ewma,
    individuals,
    mean_and_range,
    signals,
)
from validate.studies.control_chart.runs import Record
from validate.studies.control_chart.settings import CERTIFIED, CUSUM, EWMA, INDIVIDUALS, RANGE, RUNS_DIFFER


@dataclass(frozen=True)
class Charted:
    """The chart of the record, or why there is none. Positions count runs from 0."""

    record: Record
    chart: Individuals | MeanAndRange | None
    signals: tuple[Signal, ...] = ()
    ewma: Ewma | None = None
    cusum: Cusum | None = None
    reason: str | None = None

    @property
    def sigma(self) -> float:
        """Of one point of the chart."""
        return self.chart.sigma if isinstance(self.chart, Individuals) else self.chart.sigma_mean  # type: ignore[union-attr]

    @property
    def points(self) -> np.ndarray:
        return self.record.means

    def at(self, on: str) -> frozenset[int]:
        """Runs after the base period with a signal of one rule, of any rule, of EWMA or of CUSUM."""
        if on == EWMA:
            found = self.ewma.signals if self.ewma else ()
        elif on == CUSUM:
            found = self.cusum.signals if self.cusum else ()
        else:
            found = tuple(each.at for each in self.signals if on in (each.rule, "any rule"))
        return frozenset(at for at in found if not self.record.base[at])

    @property
    def signalled(self) -> tuple[int, ...]:
        """Runs after the base period with a signal of any kind."""
        return tuple(sorted(self.at("any rule") | self.at(EWMA) | self.at(CUSUM)))

    @property
    def in_base(self) -> tuple[int, ...]:
        """Runs of the base period with a signal of any kind: its limits are then in doubt."""
        found = {each.at for each in self.signals}
        for memory in (self.ewma, self.cusum):
            found |= set(memory.signals) if memory else set()
        return tuple(sorted(at for at in found if self.record.base[at]))


def chart_of(record: Record) -> Charted:
    """Chart, signals and charts with a memory, as the protocol declares them."""
    settings = record.settings
    try:
        chart = _limits(record)
    except ValueError as error:
        return Charted(record, None, reason=str(error))
    points, centre = record.means, chart.centre
    sigma = chart.sigma if isinstance(chart, Individuals) else chart.sigma_mean
    memory = {"centre": centre, "sigma": sigma}
    on_points = [rule for rule in settings.rules if rule != RANGE]
    found = [*signals(points, rules=on_points, **memory), *(_ranges_beyond(chart) if RANGE in settings.rules else ())]
    return Charted(
        record,
        chart,
        tuple(sorted(found, key=lambda each: each.at)),
        None if settings.ewma is None else ewma(
            points, weight=settings.ewma.weight, width=settings.ewma.width, settled=True, **memory
        ),
        None if settings.cusum is None else cusum(
            points, allowance=settings.cusum.allowance, decision=settings.cusum.decision, **memory
        ),
    )  # fmt: skip


def _ranges_beyond(chart: Individuals | MeanAndRange) -> Iterator[Signal]:
    """Runs whose range, or whose distance from the run before, lies beyond the limits of ranges."""
    if isinstance(chart, Individuals):
        for i in np.flatnonzero(chart.moving_ranges > chart.moving_range_upper).tolist():
            yield Signal(RANGE, i, i + 1, 0)
        return
    outside = (chart.ranges > chart.range_upper) | (chart.ranges < chart.range_lower)
    for i in np.flatnonzero(outside).tolist():
        yield Signal(RANGE, i, i, 0)


def _limits(record: Record) -> Individuals | MeanAndRange:
    settings = record.settings
    source, base = settings.limits, record.base if settings.limits.base is not None else None
    centre = None
    if source.from_ == CERTIFIED:
        if record.reference is None:
            raise ValueError(f"material {source.material} has no value in {record.unit}")
        centre = record.reference.value
    if base is not None and not base.any():
        raise ValueError("no run lies in the base period")
    if settings.chart == INDIVIDUALS:
        return individuals(record.means, base=base, centre=centre, sigma=source.sd)
    sizes = record.sizes
    if len(set(sizes.tolist())) > 1:
        raise ValueError(f"runs have {sizes.min()} to {sizes.max()} readings: means and ranges need the same number")
    order = np.argsort(record.run_of, kind="stable")
    readings = record.values[order].reshape(record.n, -1)
    differ = source.spread == RUNS_DIFFER
    return mean_and_range(readings, base=base, centre=centre, sigma_mean=source.sd, runs_differ=differ)
