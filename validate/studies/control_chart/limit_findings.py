"""Centre, spread and limits of the chart; how many runs signalled; how many triggers fired."""

from __future__ import annotations

import math

from validate.stats.control import Individuals, MeanAndRange, range_constants
from validate.stats.intervals import Limits
from validate.studies.control_chart.charting import Charted
from validate.studies.control_chart.parts import finding, intervals_of, symbol
from validate.studies.control_chart.settings import CERTIFIED, RUNS_DIFFER
from validate.studies.control_chart.triggers import Fired
from validate.vocabulary.finding import COUNTED, Finding, Symbol, Working

ISO_7870 = "ISO 7870-2:2013 (from memory)"
RULE = "the rules that the protocol names"
NAMES = ("control_centre", "control_sigma", "control_lower", "control_upper")


def limit_findings(charted: Charted) -> tuple[Finding, ...]:
    """Four figures of the chart, or why there is none."""
    record, chart = charted.record, charted.chart
    if chart is None:
        formulas = dict(zip(NAMES, ("c", "σ", "c − 3·σ", "c + 3·σ"), strict=True))
        return tuple(
            finding(record, name, None, reason=charted.reason, formula=formulas[name], source=ISO_7870)
            for name in NAMES
        )
    common = {"source": ISO_7870, "n": chart.n_base or None}
    sigma = charted.sigma
    ends = (
        symbol("c", "c", "centre line", chart.centre, record.unit),
        symbol("s", "σ", "of a point", sigma, record.unit),
    )
    centre, spread = _centre(charted, chart), _spread(charted, chart)
    return (
        finding(record, "control_centre", chart.centre, formula=centre[0], working=centre[1], **common),
        finding(record, "control_sigma", sigma, formula=spread[0], working=spread[1], **common),
        finding(record, "control_lower", chart.lower, formula="c − 3·σ",
                working=Working(expression="{c} − 3 · {s}", symbols=ends), **common),
        finding(record, "control_upper", chart.upper, formula="c + 3·σ",
                working=Working(expression="{c} + 3 · {s}", symbols=ends), **common),
    )  # fmt: skip


def _centre(charted: Charted, chart: Individuals | MeanAndRange) -> tuple[str, Working]:
    record = charted.record
    if record.settings.limits.from_ == CERTIFIED:
        words = f"certified value of {record.settings.limits.material}"
        return "c = certified value", Working(
            expression="{c}", symbols=(symbol("c", "c", words, chart.centre, record.unit),)
        )
    chosen = record.means[record.base]
    symbols = (
        symbol("sum", "Σx̄_i", "sum of the runs of the base period", math.fsum(chosen.tolist()), record.unit),
        symbol("n", "n", "runs of the base period", len(chosen)),
    )
    return "c = mean of the base period", Working(expression="{sum} / {n}", symbols=symbols)


def _spread(charted: Charted, chart: Individuals | MeanAndRange) -> tuple[str, Working]:
    record = charted.record
    source, unit = record.settings.limits, record.unit
    if source.sd is not None:
        stated = symbol("s", "s", "stated in the protocol, from earlier work", charted.sigma, unit)
        return "σ = stated standard deviation", Working(expression="{s}", symbols=(stated,))
    if isinstance(chart, Individuals) or source.spread == RUNS_DIFFER:
        d2 = range_constants(2)[0]
        symbols: tuple[Symbol, ...] = (
            symbol("mr", "M̄R", "mean moving range of the base period", d2 * charted.sigma, unit),
            symbol("d2", "d₂", "mean range of two normal values", d2),
        )
        return "σ = M̄R/d₂", Working(expression="{mr} / {d2}", symbols=symbols)
    symbols = (
        symbol("r", "R̄", "mean range of the base period", chart.mean_range, unit),
        symbol("d2", "d₂", f"mean range of {chart.n} normal values", range_constants(chart.n)[0]),
        symbol("n", "n", "readings of a run", chart.n),
    )
    return "σ = R̄/(d₂·√n)", Working(expression="{r} / ({d2} · √({n}))", symbols=symbols)


def count_findings(charted: Charted, fired: tuple[Fired, ...]) -> tuple[Finding, ...]:
    """Runs with a signal, and triggers that fired."""
    record = charted.record
    later = int((~record.base).sum())
    return (
        _count(charted, "signal_count", len(charted.signalled), "runs after the base period with a signal", later),
        *(
            [_count(charted, "revalidation_triggers", sum(each.at is not None for each in fired),
                    "triggers of the protocol that fired", later)]
            if record.settings.revalidate
            else []
        ),
    )  # fmt: skip


def _count(charted: Charted, name: str, number: int, words: str, later: int) -> Finding:
    record = charted.record
    common = {"formula": f"number of {words}", "source": RULE, "n": later}
    if charted.chart is None:
        return finding(record, name, None, reason=charted.reason, **common)
    if later == 0:
        return finding(record, name, None, reason="no run lies after the base period", **common)
    working = Working(expression="{k}", symbols=(symbol("k", "k", words, number),))
    exact = intervals_of(record, lambda _, level: Limits(number, number, level, COUNTED), "")
    return finding(record, name, float(number), working=working, intervals=exact, **common)
