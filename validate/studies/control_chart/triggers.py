"""Triggers for revalidation: rules of the protocol on signals, and where they fired first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from validate.studies.control_chart.charting import Charted
from validate.studies.control_chart.runs import Change
from validate.studies.control_chart.settings import ANY, CUSUM, EWMA, Trigger


@dataclass(frozen=True)
class Fired:
    """A trigger of the protocol with the first run (from 0) at which it was complete, or None."""

    name: str
    words: str
    at: int | None
    runs: tuple[int, ...] = ()
    """Runs whose signals completed it."""
    change: Change | None = None


def fired_triggers(charted: Charted) -> tuple[Fired, ...]:
    """Every trigger of the protocol, in its order."""
    return tuple(_fired(charted, name, trigger) for name, trigger in charted.record.settings.revalidate.items())


def _fired(charted: Charted, name: str, trigger: Trigger) -> Fired:
    words = words_of(trigger)
    found = sorted(charted.at(trigger.on)) if charted.chart is not None else []
    if trigger.after_change_of is None:
        runs = _dense(found, trigger.times, trigger.within_runs)
        return Fired(name, words, runs[-1] if runs else None, runs)
    for change in charted.record.changes():
        if change.role == trigger.after_change_of:
            after = [at for at in found if change.at <= at < change.at + (trigger.within_runs or 1)]
            if len(after) >= trigger.times:
                runs = tuple(after[: trigger.times])
                return Fired(name, words, runs[-1], runs, change)
    return Fired(name, words, None)


def _dense(found: Sequence[int], times: int, within: int | None) -> tuple[int, ...]:
    """The first `times` positions that lie within so many runs in a row."""
    for last in range(times - 1, len(found)):
        runs = tuple(found[last - times + 1 : last + 1])
        if within is None or runs[-1] - runs[0] < within:
            return runs
    return ()


def words_of(trigger: Trigger) -> str:
    """`2 runs with a signal of any rule within 20 runs`."""
    runs = "1 run" if trigger.times == 1 else f"{trigger.times} runs"
    of = trigger.on if trigger.on in (ANY, EWMA, CUSUM) else f'"{trigger.on}"'
    text = f"{runs} with a signal of {of}"
    if trigger.after_change_of is not None:
        return f"{text} in the first {trigger.within_runs} after a change of {trigger.after_change_of}"
    return text if trigger.within_runs is None else f"{text} within {trigger.within_runs} runs"
