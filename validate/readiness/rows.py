"""Every result of a study's table: was the run that it names ready when it was read?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from validate.protocol.settings import DataSource
from validate.readiness.clock import Times, nothing_recorded, read_times
from validate.readiness.log import RunLog
from validate.readiness.rules import RESULT_COLUMNS, Rule
from validate.readiness.telling import PROBLEMS, capped
from validate.readiness.validity import FAILS, HOLDS, UNTOLD, Windows, bound_states, passing, together, windows_of
from validate.tables.columns import nearest
from validate.tables.reading import TableReading
from validate.tables.table import row_ranges
from validate.vocabulary.problem import Problem

READY, NOT_READY, CANNOT_BE_TOLD = range(3)


@dataclass(frozen=True)
class JudgedRuns:
    """For each rule its state at the first and at the last reading of every run, and its windows where it has some."""

    log: RunLog
    first: tuple[np.ndarray, ...]
    last: tuple[np.ndarray, ...]
    windows: tuple[Windows | None, ...]


@dataclass(frozen=True, kw_only=True)
class JudgedRows:
    """The results of one table. `states` has a row for each rule."""

    study: str
    reading: TableReading
    rows: np.ndarray
    """File rows."""
    run: np.ndarray
    """Position in the log, -1 where no run is named."""
    states: np.ndarray
    timed: bool
    """Whether the table gives times of its readings."""
    delayed: bool
    """Whether it gives times at which the developer was added."""
    problems: tuple[Problem, ...]

    @property
    def state(self) -> np.ndarray:
        """READY, NOT_READY or CANNOT_BE_TOLD for each row."""
        all_hold = (self.states == HOLDS).all(axis=0) & (self.run >= 0)
        state = np.where(all_hold, READY, CANNOT_BE_TOLD)
        state[(self.states == FAILS).any(axis=0)] = NOT_READY
        return state


def judge_runs(log: RunLog) -> JudgedRuns:
    """Every rule for every run, at its first and its last reading."""
    first, last, windows = [], [], []
    for rule in log.rules:
        if rule.kind == "bound":
            states = bound_states(rule, log)
            first.append(states)
            last.append(states)
            windows.append(None)
        else:
            window = windows_of(rule, log)
            first.append(window.states(log.first))
            last.append(window.states(log.last))
            windows.append(window)
    return JudgedRuns(log, tuple(first), tuple(last), tuple(windows))


def judge_rows(study: str, reading: TableReading, source: DataSource, judged: JudgedRuns) -> JudgedRows:
    """The results of a table, exclusions of the protocol included; amendments are applied."""
    log, frame = judged.log, reading.amended.frame
    texts = {column.role: _texts(reading, source, column.role) for column in RESULT_COLUMNS}
    run, problems = _runs_named(texts["run"], reading, log)
    read, added = (
        nothing_recorded(len(frame)) if texts[role] is None else read_times(texts[role], log.zone)
        for role in ("read_at", "developer_added")
    )
    named = run >= 0
    states = np.full((len(log.rules), len(frame)), UNTOLD, np.int8)
    for i, rule in enumerate(log.rules):
        states[i, named] = _states(i, rule, judged, run[named], read[named], added[named])
    problems += _outside(read, run, reading, log)
    return JudgedRows(
        study=study,
        reading=reading,
        rows=frame.index.to_numpy(),
        run=run,
        states=states,
        timed=bool(read.recorded.any()),
        delayed=bool(added.recorded.any()),
        problems=tuple(problems),
    )


def _states(i: int, rule: Rule, judged: JudgedRuns, run: np.ndarray, read: Times, added: Times) -> np.ndarray:
    """One rule for results with a run: by the time of the reading where it is known, else by those of the run."""
    log, windows = judged.log, judged.windows[i]
    of_run = together(judged.first[i], judged.last[i])[run]
    if windows is None:
        return of_run
    window = windows[run]
    if rule.kind == "delay" and added.recorded.any():
        window = passing(rule, added.otherwise(log.time("developer_added")[run]), log)
        of_run = together(window.states(log.first[run]), window.states(log.last[run]))
    return np.where(read.recorded, window.states(read), of_run)


def _texts(reading: TableReading, source: DataSource, role: str) -> list[str] | None:
    """The cells of a column, also where the study reads it under a name of its own."""
    frame = reading.amended.frame
    name = source.columns.get(role, role)
    for candidate in (role, *(own for own in frame if source.columns.get(own, own) == name)):
        if candidate in frame:
            return frame[candidate].astype("str").tolist()
    return None


def _runs_named(names: list[str] | None, reading: TableReading, log: RunLog) -> tuple[np.ndarray, list[Problem]]:
    count = len(reading.amended.frame)
    if names is None:
        return np.full(count, -1), [PROBLEMS.problem("table-without-run", reading.place, log=log.reading.name)]
    known = {name: i for i, name in enumerate(log.names)}
    run = np.fromiter((known.get(name, -1) for name in names), np.int64, count)
    rows = reading.amended.frame.index.to_numpy()
    problems = []
    unknown: dict[str, list[int]] = {}
    for i in np.flatnonzero(run < 0).tolist():
        unknown.setdefault(names[i], []).append(int(rows[i]))
    for name, where in unknown.items():
        place = reading.cell(where[0], "run")
        if name:
            values = {"run": name, "log": log.reading.name, "rows": row_ranges(where)}
            mend = nearest(name, log.names)
            problems.append(PROBLEMS.problem("run-not-in-log", place, **values, mend=mend))
        else:
            count_said = "1 row names" if len(where) == 1 else f"{len(where):,} rows name"
            problems.append(PROBLEMS.problem("rows-without-run", place, count=count_said, rows=row_ranges(where)))
    return run, capped(problems)


def _outside(read: Times, run: np.ndarray, reading: TableReading, log: RunLog) -> list[Problem]:
    """Readings that lie outside the run that they name, and readings at a time that does not exist or comes twice."""
    first, last = log.first[run], log.last[run]
    outside = (run >= 0) & read.recorded & ((read.high < first.low) | (read.low > last.high))
    problems = []
    found = (
        ("reading-outside-run", outside),
        ("reading-time-skipped", read.skipped),
        ("reading-time-repeated", read.repeated),
    )
    rows, names = reading.amended.frame.index.to_numpy(), log.names
    for code, mask in found:
        if mask.any():
            at = int(np.flatnonzero(mask)[0])
            place = reading.cell(int(rows[at]), "read_at")
            name = names[run[at]] if run[at] >= 0 else ""
            problems.append(PROBLEMS.problem(code, place, rows=row_ranges(rows[mask]), run=name))
    return problems
