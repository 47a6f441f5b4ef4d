"""Tables of a control chart: triggers, signals, the record by lot, changes."""

from __future__ import annotations

import numpy as np

from validate.stats.control import RULES, Individuals, run_length
from validate.studies.control_chart.charting import Charted
from validate.studies.control_chart.runs import Record
from validate.studies.control_chart.settings import CUSUM, EWMA, RANGE
from validate.studies.control_chart.triggers import Fired
from validate.vocabulary.evaluation import ResultTable, TableColumn

MOST_SHOWN = 40
SETS = 400


def trigger_table(charted: Charted, fired: tuple[Fired, ...]) -> ResultTable | None:
    """Every trigger of the protocol, and where it fired first."""
    if not fired:
        return None
    names = charted.record.names
    rows = tuple(
        (each.name, each.words, "not fired" if each.at is None else f"fired at run {names[each.at]}",
         ", ".join(names[at] for at in each.runs) or "–")
        for each in fired
    )  # fmt: skip
    columns = tuple(
        TableColumn(title=t, kind="text") for t in ("trigger", "fires at", "state", "runs with the signals")
    )
    return ResultTable(name="triggers", title="Triggers for revalidation", columns=columns, rows=rows,
                       note="Signals of the base period do not count.")  # fmt: skip


def signal_table(charted: Charted) -> ResultTable | None:
    """Signals in order of time, the memory of EWMA and CUSUM included; one that goes on run after run is one row."""
    record = charted.record
    found = [(each.at, _words(charted, each.rule), each.first) for each in charted.signals]
    if charted.ewma is not None:
        found += [(at, f"{EWMA} beyond its limits", at) for at in charted.ewma.signals]
    if charted.cusum is not None:
        found += [(at, f"{CUSUM} beyond its decision interval", start)
                  for at, start in zip(charted.cusum.signals, charted.cusum.starts, strict=True)]  # fmt: skip
    if not found:
        return None
    spans = _spans(found)
    rows = tuple(
        (record.names[at], record.dates[at] or "–", float(charted.points[at]),
         f"{words} (base period)" if record.base[at] else words, record.names[first],
         record.names[last])
        for at, last, words, first in spans[:MOST_SHOWN]
    )  # fmt: skip
    columns = (
        TableColumn(title="run", kind="text"),
        TableColumn(title="day", kind="text"),
        TableColumn(title="value", unit=record.unit),
        TableColumn(title="signal", kind="text"),
        TableColumn(title="began at run", kind="text"),
        TableColumn(title="until run", kind="text"),
    )
    more = f"The first {MOST_SHOWN} of {len(spans)}. " if len(spans) > MOST_SHOWN else ""
    return ResultTable(
        name="signals", title="Signals", columns=columns, rows=rows, note=f"{more}{false_alarms(charted)}"
    )


def _words(charted: Charted, rule: str) -> str:
    if rule in RULES:
        return f"{rule}: {RULES[rule].words}"
    what = "distance from the run before" if isinstance(charted.chart, Individuals) else "range within the run"
    return f"{rule}: {what}"


def _spans(found: list[tuple[int, str, int]]) -> list[tuple[int, int, str, int]]:
    """(first run, last run, words, where the pattern began) of every signal that goes on without a gap."""
    last: dict[str, int] = {}
    spans: list[list] = []
    for at, words, first in sorted(found, key=lambda each: each[0]):
        open_one = last.get(words)
        if open_one is not None and spans[open_one][1] == at - 1:
            spans[open_one][1] = at
        else:
            last[words] = len(spans)
            spans.append([at, at, words, first])
    return [tuple(span) for span in spans]


def false_alarms(charted: Charted) -> str:
    """How often the declared rules alarm although nothing changed."""
    settings = charted.record.settings
    rules = [rule for rule in settings.rules if rule != RANGE]
    others = [("the range", RANGE in settings.rules), (EWMA, settings.ewma), (CUSUM, settings.cusum)]
    more = " and ".join(name for name, declared in others if declared)
    if not rules:
        return ""
    mean, _ = run_length(rules, sets=SETS)
    return (
        f"With these rules on points a false alarm comes about every {mean:.2g} runs "
        "although nothing has changed (simulated, limits exactly known; from a short base period more often)."
        + (f" Alarms of {more} come on top." if more else "")
    )


def segment_table(charted: Charted) -> ResultTable | None:
    """The record by lot (or what else changes slowly): mean and scatter of each."""
    record = charted.record
    role = record.settings.long_term_by
    labels = np.array(record.labels(role), dtype=object)
    if not len(labels):
        return None
    names = [name for name in dict.fromkeys(labels) if name]
    rows = []
    for name in names[:MOST_SHOWN]:
        chosen = record.means[labels == name]
        off = float(chosen.mean()) - charted.chart.centre if charted.chart is not None else None
        sd = float(np.std(chosen, ddof=1)) if len(chosen) > 1 else None
        rows.append((str(name), float(len(chosen)), float(chosen.mean()), sd, off))
    columns = (
        TableColumn(title=role, kind="text"),
        TableColumn(title="runs"),
        TableColumn(title="mean", unit=record.unit),
        TableColumn(title="SD", unit=record.unit),
        TableColumn(title="mean − centre", unit=record.unit),
    )
    note = f"The first {MOST_SHOWN} of {len(names)}." if len(names) > MOST_SHOWN else ""
    return ResultTable(name="segments", title=f"The record by {role}", columns=columns, rows=tuple(rows), note=note)


def change_table(record: Record) -> ResultTable | None:
    """Changes of lot, calibration and instrument as they are marked in the chart."""
    changes = record.changes()
    if not changes:
        return None
    rows = tuple((record.names[c.at], record.dates[c.at] or "–", c.role, c.old, c.new) for c in changes[:MOST_SHOWN])
    columns = tuple(TableColumn(title=t, kind="text") for t in ("first run", "day", "what changed", "from", "to"))
    note = f"The first {MOST_SHOWN} of {len(changes)}." if len(changes) > MOST_SHOWN else ""
    return ResultTable(name="changes", title="Changes", columns=columns, rows=rows, note=note)
