"""What the run log says that cannot be: clocks that run backwards, lots used before they were opened."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from validate.readiness.clock import FAR, shown_time
from validate.readiness.log import RunLog
from validate.readiness.rules import STARTS
from validate.readiness.telling import PROBLEMS, capped
from validate.vocabulary.problem import Problem

_ORDER = (
    ("start", "end"),
    ("first_reading", "last_reading"),
    ("start", "first_reading"),
    ("last_reading", "end"),
    ("start", "last_reading"),
    ("first_reading", "end"),
)


def contradictions(log: RunLog) -> list[Problem]:
    """Every contradiction within the log, as a notice at its cell."""
    return capped([*_clock_changes(log), *_backwards(log), *_used_before(log), *_overlaps(log)])


def _clock_changes(log: RunLog) -> Iterator[Problem]:
    for role, times in log.times.items():
        for code, mask in (("time-skipped", times.skipped), ("time-repeated", times.repeated)):
            for i in np.flatnonzero(mask).tolist():
                place = log.reading.cell(log.rows[i], role)
                yield PROBLEMS.problem(code, place, time=_shown(log, role, i), column=role, run=log.names[i])


def _backwards(log: RunLog) -> Iterator[Problem]:
    told: set[int] = set()
    for earlier, later in _ORDER:
        before, after = log.time(earlier), log.time(later)
        for i in np.flatnonzero(after.high < before.low).tolist():
            if i in told:
                continue
            told.add(i)
            yield PROBLEMS.problem(
                "runs-backwards",
                log.reading.cell(log.rows[i], later),
                run=log.names[i],
                earlier=_words(earlier),
                later=_words(later),
                earlier_time=_shown(log, earlier, i),
                later_time=_shown(log, later, i),
            )


def _used_before(log: RunLog) -> Iterator[Problem]:
    """Made, opened or calibrated after the first reading."""
    begun = [role for role in log.times if role == "calibrated" or role.endswith(tuple(STARTS.values()))]
    for role in begun:
        for i in np.flatnonzero(log.times[role].low > log.first.high).tolist():
            yield PROBLEMS.problem(
                "used-before",
                log.reading.cell(log.rows[i], role),
                run=log.names[i],
                what=_words(role),
                time=_shown(log, role, i),
                read=first_shown(log, i) or last_shown(log, i),
            )


def _overlaps(log: RunLog) -> Iterator[Problem]:
    instruments = np.array(log.texts("instrument"))
    known = (instruments != "") & (log.first.low > -FAR) & (log.last.high < FAR)
    for instrument in np.unique(instruments[known]).tolist():
        runs = np.flatnonzero(known & (instruments == instrument))
        runs = runs[np.argsort(log.first.low[runs], kind="stable")]
        for other, i in zip(runs[:-1].tolist(), runs[1:].tolist(), strict=True):
            if log.first.high[i] < log.last.low[other]:
                role = "first_reading" if log.has("first_reading") else "start"
                place = log.reading.cell(log.rows[i], role)
                values = {"run": log.names[i], "other": log.names[other], "instrument": instrument}
                yield PROBLEMS.problem("runs-overlap", place, **values)


def first_shown(log: RunLog, run: int) -> str:
    """The first reading as recorded; empty when neither it nor the start of the run is."""
    return _shown(log, "first_reading", run) or _shown(log, "start", run)


def last_shown(log: RunLog, run: int) -> str:
    return _shown(log, "last_reading", run) or _shown(log, "end", run)


def _shown(log: RunLog, role: str, run: int) -> str:
    return shown_time(log.texts(role)[run]) if log.has(role) else ""


def _words(role: str) -> str:
    return role.replace("_", " ")
