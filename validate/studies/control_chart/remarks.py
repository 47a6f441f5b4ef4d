"""What a reader must not miss: remarks, the design as carried out, what varied, limits of use."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from validate.stats.control import serial_correlation
from validate.studies.contract import StudyInput
from validate.studies.control_chart.charting import Charted
from validate.studies.control_chart.runs import Record, record_of
from validate.studies.control_chart.settings import (
    CERTIFIED,
    FEWEST_BASE,
    INDIVIDUALS,
    MEAN_AND_RANGE,
    WITHIN,
    ControlChartSettings,
)
from validate.studies.control_chart.triggers import Fired
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import DesignFact, Remark, Varied

MOST_NAMED = 8
TOO_NARROW = 1.5
"""Runs scatter so many times more than their readings explain: limits from ranges within runs are then too narrow."""
RESEMBLES, FEWEST_FOR_NEIGHBOURS = 2.326, 10
"""One-sided 99 % quantile of the normal distribution; runs below which a correlation tells nothing."""
FACTORS = {"lots": "lot", "calibrations": "calibration", "instruments": "instrument", "analysts": "analyst"}


def remarks_of(charted: Charted, fired: tuple[Fired, ...]) -> tuple[Remark, ...]:
    """Sentences on triggers, record and limits."""
    told = (*_on_triggers(charted, fired), *_on_record(charted.record), *_on_limits(charted), *_on_signals(charted))
    return tuple(Remark(kind=kind, text=text, rows=rows) for kind, text, rows in told)  # type: ignore[arg-type]


def _on_triggers(charted: Charted, fired: tuple[Fired, ...]) -> Iterator[tuple[str, str, str]]:
    names = charted.record.names
    for each in fired:
        if each.at is None:
            continue
        cause = f" (change of {each.change.role} from {each.change.old} to {each.change.new})" if each.change else ""
        text = (
            f'Trigger for revalidation: "{each.name}" fired at run {names[each.at]}{cause}: {each.words}. '
            "The protocol asks for a validation of what may have changed."
        )
        yield "warning", text, row_ranges(_rows(charted.record, each.runs))


def _on_record(record: Record) -> Iterator[tuple[str, str, str]]:
    if record.censored:
        yield (
            "warning",
            "Censored results are left out, and no verdict is given: they are never zero.",
            row_ranges(record.censored),
        )
    if record.missing:
        yield "flag", "No result was obtained; a reason is needed.", row_ranges(record.missing)


def _on_limits(charted: Charted) -> Iterator[tuple[str, str, str]]:
    record, chart = charted.record, charted.chart
    if chart is None:
        yield "warning", f"There is no chart: {charted.reason}.", ""
        return
    base = int(record.base.sum())
    if record.settings.limits.base is not None and base < FEWEST_BASE:
        yield "warning", f"The base period holds {base} runs; below {FEWEST_BASE} its limits are provisional.", ""
    if charted.in_base:
        names = _named([record.names[at] for at in charted.in_base])
        text = f"Signals within the base period ({names}): its limits rest on runs out of control; a reason is needed."
        yield "flag", text, row_ranges(_rows(record, charted.in_base))
    yield from _on_neighbours(record)
    if record.settings.chart == MEAN_AND_RANGE and record.settings.limits.spread == WITHIN and record.n > 2:
        ratio = float(np.std(record.means, ddof=1)) / charted.sigma
        if ratio > TOO_NARROW:
            text = (
                f"Runs differ by {ratio:.2g} times what the scatter within them explains: limits from ranges within "
                "runs are too narrow for such a method. `spread: runs differ` takes the differences between runs."
            )
            yield "warning", text, ""


def _on_neighbours(record: Record) -> Iterator[tuple[str, str, str]]:
    """Runs that resemble the run before: moving ranges, and limits from them, are then too small."""
    in_base = record.base.any()
    points = record.means[record.base] if in_base else record.means
    if len(points) < FEWEST_FOR_NEIGHBOURS or np.ptp(points) == 0:
        return
    r = serial_correlation(points)
    if r * math.sqrt(len(points)) > RESEMBLES:
        where = "of the base period" if in_base else "of the record"
        text = (
            f"Neighbouring runs {where} resemble each other (correlation {r:.2f}, 99 % level): limits from moving "
            "ranges are too narrow and signals come too often; a stated `sd`, or a base period that holds the slow "
            "changes, is better."
        )
        yield "warning", text, ""


def _on_signals(charted: Charted) -> Iterator[tuple[str, str, str]]:
    if charted.signalled:
        record = charted.record
        names = _named([record.names[at] for at in charted.signalled])
        text = f"Runs with a signal: {names}. Look for a cause; without one the runs stay in."
        yield "flag", text, row_ranges(_rows(record, charted.signalled))


def _rows(record: Record, runs: Sequence[int]) -> list[int]:
    return [int(row) for row in record.index[np.isin(record.run_of, list(runs))]]


def design_facts(record: Record) -> tuple[DesignFact, ...]:
    """Runs, readings and base period: planned against carried out."""
    settings = record.settings
    sizes = record.sizes if record.n else np.array([0])
    least, most = int(sizes.min()), int(sizes.max())
    planned = settings.design.runs
    facts = [
        DesignFact(name="runs", planned=str(planned), carried_out=str(record.n), short=record.n < planned),
        DesignFact(name="readings in a run", planned=str(settings.design.replicates),
                   carried_out=str(least) if least == most else f"{least} to {most}",
                   short=least < settings.design.replicates),
        DesignFact(name="limits", planned=_limit_words(settings), carried_out=_base_words(record)),
        DesignFact(name="rules", planned=", ".join(settings.rules), carried_out="as planned"),
    ]  # fmt: skip
    if settings.ewma is not None:
        facts.append(DesignFact(name="EWMA", planned=f"weight {settings.ewma.weight:g}, width {settings.ewma.width:g}",
                                carried_out="as planned"))  # fmt: skip
    if settings.cusum is not None:
        words = f"allowance {settings.cusum.allowance:g}, decision interval {settings.cusum.decision:g}"
        facts.append(DesignFact(name="CUSUM", planned=words, carried_out="as planned"))
    return tuple(facts)


def _limit_words(settings: ControlChartSettings) -> str:
    source = settings.limits
    centre = f"certified value of {source.material}" if source.from_ == CERTIFIED else "mean of the base period"
    if source.sd is not None:
        return f"{centre} ± 3 × the stated standard deviation"
    how = "moving ranges" if settings.chart == INDIVIDUALS or source.spread != WITHIN else "ranges within runs"
    return f"{centre} ± 3 standard deviations, from {how} of the base period"


def _base_words(record: Record) -> str:
    if record.settings.limits.base is None:
        return "no base period"
    chosen = np.flatnonzero(record.base)
    if not len(chosen):
        return "no run in the base period"
    return f"base period of {len(chosen)} runs, {record.names[chosen[0]]} to {record.names[chosen[-1]]}"


def varied_factors(record: Record) -> tuple[Varied, ...]:
    """Lots, calibrations, instruments, analysts over the record."""
    made = []
    for name, role in FACTORS.items():
        labels = [label for label in dict.fromkeys(record.labels(role)) if label]
        if not labels:
            made.append(Varied(factor=name, state="not recorded"))
            continue
        state = "varied" if len(labels) > 1 else "constant"
        made.append(Varied(factor=name, state=state, count=len(labels), detail=_named(labels)))
    return tuple(made)


def facts_of(charted: Charted) -> dict[str, str]:
    """Short texts for the section."""
    record = charted.record
    days = [day for day in record.dates if day]
    material = record.settings.limits.material or "control material"
    return {
        "material": material
        if record.settings.level is None
        else f"{material}, nominal {record.settings.level} {record.unit}",
        "span": f"{min(days)} to {max(days)}" if days else "days are not recorded",
        "limits": _limit_words(record.settings),
    }


def limits_of_use(job: StudyInput) -> tuple[str, ...]:
    """What this chart cannot tell."""
    return tuple(_limits(record_of(job)))


def _limits(record: Record) -> Iterator[str]:
    yield "One material at one content: what happens at other contents and in other matrices is not seen."
    yield "Limits of mean and bias take the runs as independent: what a lot, a drift or a season shares is not in them."
    yield "A material that is taken up as an extract or standard says nothing of extraction."
    if not record.labels("lot"):
        yield "Lots are not recorded: what varies between lots is in the figures as it came, and cannot be told apart."
    if not any(record.dates):
        yield "Days are not recorded: over what time the figures hold is not known."
    if record.n < FEWEST_BASE:
        yield f"{record.n} runs: a long-term figure needs months and lots, not a week."


def _named(labels: Sequence[str]) -> str:
    return ", ".join(map(str, labels[:MOST_NAMED])) + (" …" if len(labels) > MOST_NAMED else "")
