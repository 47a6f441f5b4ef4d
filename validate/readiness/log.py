"""The run log: read like any table, with its times on one clock."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from validate.readiness.clock import FAR, Times, nothing_recorded, read_times
from validate.readiness.rules import Rule, log_columns, rules_of, with_start
from validate.readiness.telling import PROBLEMS, capped, said
from validate.tables.reading import TableReading, read_table
from validate.vocabulary.problem import ERROR, Problem

if TYPE_CHECKING:
    from validate.protocol.loading import LoadedProtocol
    from validate.protocol.model import Protocol
    from validate.protocol.settings import AmendmentSettings
    from validate.vocabulary.place import Place

_UNNUMBERED = ("LOD", "LOQ")


@dataclass(frozen=True, kw_only=True)
class RunLog:
    """The runs as reported (amendments applied), in the order of the file."""

    protocol: Protocol
    place: Callable[..., Place]
    reading: TableReading
    rules: tuple[Rule, ...]
    zone: ZoneInfo | None
    times: dict[str, Times]
    """By role, for the time and date columns that the log has."""
    first: Times
    last: Times
    """First and last reading; where they are not recorded what start and end say of them."""

    @cached_property
    def names(self) -> list[str]:
        return self.texts("run")

    @cached_property
    def rows(self) -> list[int]:
        """File rows of the runs."""
        return self.reading.reported.frame.index.tolist()

    @cached_property
    def _texts(self) -> dict[str, list[str]]:
        frame = self.reading.reported.frame
        return {role: frame[role].tolist() for role in frame}

    @cached_property
    def _empty(self) -> list[str]:
        return [""] * len(self.rows)

    def texts(self, role: str) -> list[str]:
        """A column as text; empty where the log does not have it."""
        return self._texts.get(role, self._empty)

    def has(self, role: str) -> bool:
        return role in self.reading.reported.frame

    def time(self, role: str) -> Times:
        return self.times[role] if role in self.times else nothing_recorded(len(self.reading.reported.frame))

    def bounds(self, role: str) -> tuple[np.ndarray, np.ndarray]:
        """A reading as the span that it can be: `<0.1` is anything below, an empty cell anything at all."""
        table = self.reading.reported
        low = table.frame[role].to_numpy(float) if role in table.frame else np.full(len(table.frame), np.nan)
        high = np.where(np.isnan(low), np.inf, low)
        low = np.where(np.isnan(low), -np.inf, low)
        for i, mark in enumerate(table.marks[role].tolist() if role in table.frame else ()):
            sign, limit = mark[:1], mark[1:]
            if sign == "<" and limit not in _UNNUMBERED:
                high[i] = np.nextafter(float(limit), -np.inf)
            elif sign == ">" and limit not in _UNNUMBERED:
                low[i] = np.nextafter(float(limit), np.inf)
        return low, high

    def shown(self, role: str, run: int) -> str:
        """A reading as recorded, for the reader."""
        table = self.reading.reported
        if role not in table.frame:
            return ""
        value, mark = table.frame[role].iat[run], table.marks[role].iat[run]
        return mark or ("" if value != value else f"{value:.10g}")


@dataclass(frozen=True)
class LogReading:
    """The log (None with an error among the problems), and the bytes for the dossier."""

    log: RunLog | None
    reading: TableReading
    problems: tuple[Problem, ...]


def read_run_log(loaded: LoadedProtocol, amendments: Sequence[tuple[AmendmentSettings, Place]]) -> LogReading:
    """Read the run log of a protocol that names one; every problem is kept."""
    protocol, rules = loaded.protocol, rules_of(loaded.protocol)
    columns = log_columns(protocol)
    clashes = _clashes([column.role for column in columns], loaded)
    reading = read_table(
        loaded.folder,
        protocol.runs,
        tuple({column.role: column for column in columns}.values()),
        method_unit=protocol.method.unit,
        shown_folder=loaded.shown_folder,
        source_place=partial(loaded.place, "runs"),
        amendments=amendments,
    )
    problems = [*clashes, *reading.problems]
    if clashes or reading.reported is None:
        return LogReading(None, reading, tuple(problems))
    zone = ZoneInfo(protocol.runs.time_zone) if protocol.runs.time_zone else None
    timed = {column.role for column in columns if column.type in ("time", "date")}
    frame = reading.reported.frame
    times = {role: read_times(frame[role].tolist(), zone) for role in frame if role in timed}
    log = RunLog(
        protocol=protocol,
        place=loaded.place,
        reading=reading,
        rules=tuple(with_start(rule, set(frame)) for rule in rules),
        zone=zone,
        times=times,
        **_window(times, len(frame)),
    )
    problems += [*_twice(log), *_unzoned(times, protocol, loaded.place), *_unsourced(rules, loaded.place)]
    problems += _unrecorded(log, rules)
    refused = any(problem.severity == ERROR for problem in problems)
    return LogReading(None if refused else log, reading, tuple(problems))


def _window(times: dict[str, Times], count: int) -> dict[str, Times]:
    """First and last reading. What is not recorded lies between what is."""
    nothing = nothing_recorded(count)
    first = times.get("first_reading", nothing).otherwise(times.get("start", nothing))
    last = times.get("last_reading", nothing).otherwise(times.get("end", nothing))
    before = np.where(first.high == FAR, last.high, first.high)
    after = np.where(last.low == -FAR, first.low, last.low)
    return {"first": replace(first, high=before), "last": replace(last, low=after)}


def _clashes(roles: list[str], loaded: LoadedProtocol) -> list[Problem]:
    return [
        PROBLEMS.problem("column-claimed-twice", loaded.place("readiness"), column=role)
        for role, count in Counter(roles).items()
        if count > 1
    ]


def _twice(log: RunLog) -> list[Problem]:
    first: dict[str, int] = {}
    problems = []
    for row, name in zip(log.rows, log.names, strict=True):
        earlier = first.setdefault(name, row)
        if earlier != row:
            problems.append(PROBLEMS.problem("run-twice", log.reading.cell(row, "run"), run=name, earlier=earlier))
    return capped(problems)


def _unzoned(times: dict[str, Times], protocol: Protocol, place: Callable[..., Place]) -> list[Problem]:
    if protocol.runs.time_zone or not times:
        return []
    if any(column.with_offset.any() for column in times.values()):
        return [PROBLEMS.problem("offset-without-zone", place("runs"))]
    clocks = any((column.recorded & ~column.date_only).any() for column in times.values())
    return [PROBLEMS.problem("no-time-zone", place("runs"))] if clocks else []


def _unsourced(rules: Sequence[Rule], place: Callable[..., Place]) -> list[Problem]:
    bare = [said(rule) for rule in rules if not rule.source]
    return [PROBLEMS.problem("rule-without-source", place("readiness"), rules=", ".join(bare))] if bare else []


def _unrecorded(log: RunLog, rules: Sequence[Rule]) -> list[Problem]:
    """Rules that the log cannot answer because it lacks the column, or has two that could."""
    problems = []
    for rule in rules:
        present = [role for role in rule.roles if log.has(role)]
        place = log.place("readiness", *rule.path)
        if len(present) > 1:
            names = " and ".join(present)
            problems.append(PROBLEMS.problem("shelf-life-start-unclear", place, rule=said(rule), columns=names))
        elif not present and rule.last_day is None and rule.kind != "delay":
            names = " or ".join(rule.roles)
            problems.append(PROBLEMS.problem("rule-without-column", place, rule=said(rule), columns=names))
    return problems
