"""From every result to the standard, blank and lot behind it: one line for each run, with its results."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from validate.readiness.clock import shown_span, shown_time
from validate.readiness.contradictions import first_shown, last_shown
from validate.readiness.log import RunLog
from validate.readiness.rows import JudgedRows
from validate.readiness.rules import CHECK_READINGS, STARTS, slug
from validate.tables.table import row_ranges
from validate.vocabulary.result_table import ResultTable, TableColumn

_TITLES = ("Run", "Results", "Read", "By", "Instrument", "Calibrated", "Checks", "Lots and solutions")


def chain(log: RunLog, tables: Sequence[JudgedRows]) -> ResultTable:
    """Run, its rows in every table, when and by whom they were read, on what, and what stood behind them."""
    rows = [
        (
            name,
            results,
            shown_span(first_shown(log, i), last_shown(log, i)),
            _joined([log.texts("measured_by")[i], _after("checked by", log.texts("checked_by")[i])], "; "),
            _joined([log.texts("instrument")[i], _after("firmware", log.texts("firmware")[i])], ", "),
            shown_time(log.texts("calibrated")[i]),
            _checks(log, i),
            _lots(log, i),
        )
        for i, (name, results) in enumerate(zip(log.names, _results(log, tables), strict=True))
    ]
    return ResultTable(
        name="chain",
        title="From each result to calibration, checks and lots",
        columns=tuple(TableColumn(title=title, kind="text") for title in _TITLES),
        rows=tuple(rows),
        note="Results are rows of the study's table. A result is linked by the run that it names.",
    )


def _results(log: RunLog, tables: Sequence[JudgedRows]) -> list[str]:
    """For each run its rows, table by table."""
    found: list[list[str]] = [[] for _ in log.names]
    for table in {table.reading.name: table for table in tables}.values():
        order = np.argsort(table.run, kind="stable")
        runs, first = np.unique(table.run[order], return_index=True)
        for run, rows in zip(runs.tolist(), np.split(table.rows[order], first[1:]), strict=True):
            if run >= 0:
                found[run].append(f"{table.reading.name}: {row_ranges(rows)}")
    return [_joined(parts, "; ") for parts in found]


def _checks(log: RunLog, run: int) -> str:
    readiness = log.protocol.readiness
    names = [(role, role.replace("_", " ")) for role in CHECK_READINGS]
    names += [(slug(name), name) for name in (readiness.limits if readiness else ())]
    parts = [f"{name} {shown}" for role, name in names if (shown := log.shown(role, run))]
    return _joined(parts, "; ")


def _lots(log: RunLog, run: int) -> str:
    readiness = log.protocol.readiness
    if readiness is None:
        return ""
    expiring = readiness.expiry.items if readiness.expiry else ()
    parts = []
    for name in dict.fromkeys([*readiness.shelf_life, *expiring]):
        facts = [_after("lot", log.texts(f"{slug(name)}_lot")[run])]
        facts += [_after(start, shown_time(log.texts(f"{slug(name)}_{start}")[run])) for start in STARTS.values()]
        last_day = log.texts(f"{slug(name)}_expires")[run]
        if not last_day and name in expiring and (material := log.protocol.materials.get(name)) and material.expires:
            last_day = material.expires.isoformat()
        facts.append(_after("expires", last_day))
        if any(facts):
            parts.append(f"{name}: {_joined(facts, ', ')}")
    return _joined(parts, "; ")


def _after(word: str, text: str) -> str:
    return f"{word} {text}" if text else ""


def _joined(parts: Sequence[str], between: str) -> str:
    return between.join(part for part in dict.fromkeys(parts) if part)
