"""Why a rule does not hold in a run, or cannot be told: one clause for the table of exceptions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from validate.readiness.clock import FAR, local_text, shown_span, shown_time
from validate.readiness.contradictions import first_shown, last_shown
from validate.readiness.validity import CONTRADICTED, FAILS

if TYPE_CHECKING:
    from validate.readiness.log import RunLog
    from validate.readiness.rows import JudgedRuns
    from validate.readiness.rules import Rule


def reason(i: int, run: int, judged: JudgedRuns, *, by_results: bool) -> str:
    """Why rule number `i` is not plainly held in a run. `by_results`: the results have times of their own."""
    log, rule = judged.log, judged.log.rules[i]
    if rule.kind == "bound":
        shown = log.shown(rule.roles[0], run)
        if not shown:
            return "no reading is recorded"
        fails = judged.first[i][run] == FAILS
        return (
            f"{shown} where {rule.wording} is asked" if fails else f"{shown} does not tell whether it is {rule.wording}"
        )
    if rule.kind == "delay" and by_results:
        return "by the times of its results"
    return _of_time(i, run, rule, judged)


def _of_time(i: int, run: int, rule: Rule, judged: JudgedRuns) -> str:
    log, window = judged.log, judged.windows[i]
    role = next((role for role in rule.roles if log.has(role)), rule.roles[0])
    begun, written = log.time(role), shown_time(log.texts(role)[run])
    what = role.replace("_", " ")
    if not begun.recorded[run] and window.until_high[run] >= FAR:
        return f"{what}: not recorded"
    if begun.skipped[run]:
        return f"{what}: {written} did not exist"
    first, last = first_shown(log, run), last_shown(log, run)
    if not first and not last:
        return "the time of the readings is not recorded"
    if judged.first[i][run] == CONTRADICTED:
        return f"{what} {written}, after the reading at {first or last}"
    return f"{_until(rule, window, run, log)}; {_readings(first, last)}"


def _until(rule: Rule, window: object, run: int, log: RunLog) -> str:
    low, high = (int(end[run]) for end in (window.until_low, window.until_high))
    if rule.kind == "expiry":
        return f"last day of use {local_text(high, log.zone)[:10]}"
    ends = dict.fromkeys(local_text(end, log.zone) for end in (low, high))
    return f"valid until {' or '.join(ends)}"


def _readings(first: str, last: str) -> str:
    if first and last and first != last:
        return f"readings from {shown_span(first, last)}"
    missing = "" if first and last else f", the {'last' if first else 'first'} not recorded"
    return f"reading at {first or last}{missing}"
