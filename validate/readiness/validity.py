"""When a rule holds for a reading: windows of validity against the time of the reading.

Everything is a span (see clock.py). A rule holds when it holds for all that the records can
mean, it fails when it fails for all of it, and otherwise it cannot be told.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from validate.readiness.clock import DAY, FAR, Instants, Times, ends_of_day, read_times
from validate.readiness.log import RunLog
from validate.readiness.rules import Rule

HOLDS, FAILS, UNTOLD, CONTRADICTED = range(4)
"""The last: the reading lies before what makes it valid, so that the records contradict each other."""


@dataclass(frozen=True)
class Windows:
    """From when and until when a rule allows readings, for each run (or each result).

    `until_low` and `until_high` are the earliest and the latest end that the records can mean.
    """

    begin: Instants
    until_low: Instants
    until_high: Instants

    def __getitem__(self, rows: np.ndarray) -> Windows:
        return Windows(self.begin[rows], self.until_low[rows], self.until_high[rows])

    def states(self, read: Times) -> np.ndarray:
        """HOLDS, FAILS, UNTOLD or CONTRADICTED for readings at these times; the ends belong to the window."""
        states = np.full(len(self.begin), UNTOLD, np.int8)
        states[read.high < self.begin] = CONTRADICTED
        states[(read.high <= self.until_low) & (read.high >= self.begin)] = HOLDS
        states[read.low > self.until_high] = FAILS
        return states


def windows_of(rule: Rule, log: RunLog) -> Windows:
    """The window of a rule on time in each run."""
    present = [role for role in rule.roles if log.has(role)]
    if rule.kind == "expiry":
        return _until_last_day(rule, log, present)
    return passing(rule, log.time(present[0] if present else rule.roles[0]), log)


def passing(rule: Rule, begun: Times, log: RunLog) -> Windows:
    """The window that opens when something was done. From a date alone whole days are counted."""
    low, high = begun.low + rule.lasts_ms, begun.high + rule.lasts_ms
    if rule.lasts_ms % DAY == 0 and begun.date_only.any():
        whole_days = ends_of_day(begun.local, rule.lasts_ms // DAY, log.zone)
        low, high = (np.where(begun.date_only, whole_days, end) for end in (low, high))
    return Windows(begun.low, low, high)


def _until_last_day(rule: Rule, log: RunLog, present: list[str]) -> Windows:
    last = log.time(rule.roles[0])
    if rule.last_day is not None:
        of_material = read_times([rule.last_day.isoformat()] * len(last.low), log.zone)
        last = last.otherwise(of_material)
    return Windows(np.full(len(last.low), -FAR), np.where(last.recorded, last.high, -FAR), last.high)


def bound_states(rule: Rule, log: RunLog) -> np.ndarray:
    """HOLDS, FAILS or UNTOLD of a bound on a reading in each run; equality holds."""
    low, high = log.bounds(rule.roles[0])
    least = -np.inf if rule.low is None else rule.low
    most = np.inf if rule.high is None else rule.high
    states = np.full(len(low), UNTOLD, np.int8)
    states[(low >= least) & (high <= most)] = HOLDS
    states[(high < least) | (low > most)] = FAILS
    # Without a reading even an open bound says nothing.
    states[np.isneginf(low) & np.isposinf(high)] = UNTOLD
    return states


def together(first: np.ndarray, last: np.ndarray) -> np.ndarray:
    """What holds for all readings from the first to the last; UNTOLD where the two ends differ."""
    return np.where(first == last, first, UNTOLD).astype(np.int8)
