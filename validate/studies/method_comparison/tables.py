"""Tables of a method comparison: both lines side by side, samples far apart, decisions, replicates."""

from __future__ import annotations

import math

import numpy as np

from validate.stats.comparison import BlandAltman, Classification
from validate.studies.method_comparison.agreement import classes_of
from validate.studies.method_comparison.lines import draw
from validate.studies.method_comparison.samples import Samples
from validate.studies.method_comparison.settings import DEMING, RANKS
from validate.vocabulary.evaluation import ResultTable, TableColumn

MOST_SHOWN = 20
LINE_NOTE = (
    "The line that the protocol declares gives the findings; the other one is for comparison. The ordinary line takes "
    "the reference for free of error and comes out too flat."
)


def line_table(samples: Samples) -> ResultTable:
    """The declared line, the other one, and the ordinary one."""
    rows: list[tuple[str | float | None, ...]] = []
    declared = samples.settings.line.by
    for by in (declared, RANKS if declared == DEMING else DEMING):
        ratio = samples.settings.line.variance_ratio
        name = f"Deming, λ = {ratio or 1:g}" if by == DEMING else by
        if by == DEMING and ratio is None:
            name += " (supposed)"
        try:
            fit = draw(samples, by)
        except ValueError as error:
            rows.append((f"{name}: {error}", *(None,) * 6))
            continue
        ends = [
            _finite(end) for limits in (fit.slope_limits, fit.intercept_limits) for end in (limits.low, limits.high)
        ]
        rows.append((name, fit.slope, *ends[:2], fit.intercept, *ends[2:]))
    rows += _ordinary(samples)
    unit = "" if samples.proportional else samples.unit
    columns = (
        TableColumn(title="line", kind="text"),
        *(TableColumn(title=title) for title in ("slope", "lower, 95 %", "upper, 95 %")),
        *(TableColumn(title=title, unit=unit) for title in ("intercept", "lower, 95 %", "upper, 95 %")),
    )
    title = "Lines through logarithms" if samples.proportional else "Lines"
    return ResultTable(name="lines", title=title, columns=columns, rows=tuple(rows), note=LINE_NOTE)


def _ordinary(samples: Samples) -> list[tuple[str | float | None, ...]]:
    from validate.stats.regression import line

    if samples.proportional and not samples.are_positive:
        return []
    try:
        fit = line(*samples.for_line())
    except ValueError:
        return []
    slope, intercept = fit.slope_limits, fit.intercept_limits
    return [("ordinary", fit.slope, slope.low, slope.high, fit.intercept, intercept.low, intercept.high)]


def farthest_table(samples: Samples, agreement: BlandAltman | str) -> ResultTable | None:
    """Samples whose difference lies outside the limits of agreement."""
    if isinstance(agreement, str) or agreement.sd == 0:
        return None
    differences = np.asarray(agreement.differences)
    middle = math.log(agreement.bias) if agreement.ratio else agreement.bias
    away = np.abs(differences - middle)
    outside = [int(i) for i in np.argsort(-away, kind="stable") if away[i] > agreement.multiple * agreement.sd]
    if not outside:
        return None
    x, y = samples.x, samples.y
    rows = tuple(
        (samples.names[i], float(x[i]), float(y[i]), _shown(agreement, differences[i])) for i in outside[:MOST_SHOWN]
    )
    unit, what = samples.unit, "ratio" if agreement.ratio else "difference"
    columns = (
        TableColumn(title="sample", kind="text"),
        TableColumn(title="reference", unit=unit),
        TableColumn(title="this method", unit=unit),
        TableColumn(title=what, unit="" if agreement.ratio else unit),
    )
    more = f" The farthest {MOST_SHOWN} of {len(outside)}." if len(outside) > MOST_SHOWN else ""
    return ResultTable(
        name="farthest",
        title="Samples outside the limits of agreement",
        columns=columns,
        rows=rows,
        note=f"About one sample in twenty lies outside by chance. Look at each of the others.{more}",
    )


def class_table(samples: Samples) -> ResultTable | None:
    """Decisions of both methods at the limit."""
    found = classes_of(samples)
    if not isinstance(found, Classification):
        return None
    limit = f"{samples.job.method.limit:g} {samples.unit}"
    columns = (
        TableColumn(title="reference method", kind="text"),
        TableColumn(title=f"this method: above {limit}"),
        TableColumn(title="this method: not above"),
    )
    rows = (
        (f"above {limit}", float(found.both_above), float(found.only_reference)),
        ("not above", float(found.only_test), float(found.neither)),
    )
    return ResultTable(name="classes", title="Decisions at the limit, in samples", columns=columns, rows=rows,
                       note="Means of the samples; a result at the limit is not above it.")  # fmt: skip


def replicate_table(samples: Samples, agreement: BlandAltman | str) -> ResultTable | None:
    """How the readings of one sample scatter, by method."""
    if isinstance(agreement, str) or not samples.have_replicates:
        return None
    unit = "" if agreement.ratio else samples.unit
    columns = (
        TableColumn(title="method", kind="text"),
        TableColumn(title="readings"),
        TableColumn(title="SD within samples", unit=unit),
    )
    rows = (
        ("reference", float(len(samples.reference)), agreement.s_within_x),
        ("this method", float(len(samples.found)), agreement.s_within_y),
    )
    note = "SD of logarithms: about the relative SD." if agreement.ratio else ""
    if agreement.s_within_x and agreement.s_within_y:
        seen = (agreement.s_within_y / agreement.s_within_x) ** 2
        note += f" The ratio of these variances is {seen:.3g}; a Deming line takes the declared one."
    return ResultTable(name="replicates", title="Repeated readings", columns=columns, rows=rows, note=note.strip())


def _shown(agreement: BlandAltman, difference: float) -> float:
    return math.exp(difference) if agreement.ratio else float(difference)


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
