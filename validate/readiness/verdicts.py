"""Runs, rules and exceptions: the states of all results and of the two ends of each run, counted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from validate.readiness.clock import shown_span
from validate.readiness.contradictions import first_shown, last_shown
from validate.readiness.reasons import reason
from validate.readiness.rows import CANNOT_BE_TOLD, NOT_READY, READY, JudgedRows, JudgedRuns
from validate.readiness.rules import Rule
from validate.readiness.validity import FAILS, HOLDS, together
from validate.vocabulary.readiness import ReadinessException, ReadinessRule, RunReadiness, State

STATES: tuple[State, ...] = ("ready", "not ready", "cannot be told", "not ready in part")
IN_PART = 3
"""Position after READY, NOT_READY and CANNOT_BE_TOLD."""


@dataclass(frozen=True)
class Counted:
    """States of each run: as a whole, and by rule; with the numbers of results behind them."""

    runs: np.ndarray
    results: np.ndarray
    """(state, run) numbers of results READY, NOT_READY, CANNOT_BE_TOLD."""
    rules: np.ndarray
    """(rule, run)."""
    rule_results: np.ndarray
    """(rule, run) numbers of results of which the rule does not plainly hold."""


def count(judged: JudgedRuns, tables: Sequence[JudgedRows]) -> Counted:
    """States and numbers over all tables. Two studies that read one table count its rows once."""
    number = len(judged.log.names)
    tables = list({table.reading.name: table for table in tables}.values())
    results = np.zeros((3, number), np.int64)
    holds, fails, untold = (np.zeros((len(judged.log.rules), number), np.int64) for _ in range(3))
    for table in tables:
        named = table.run >= 0
        run, state = table.run[named], table.state[named]
        for kind in (READY, NOT_READY, CANNOT_BE_TOLD):
            results[kind] += np.bincount(run[state == kind], minlength=number)
        for i, states in enumerate(table.states[:, named]):
            holds[i] += np.bincount(run[states == HOLDS], minlength=number)
            fails[i] += np.bincount(run[states == FAILS], minlength=number)
            untold[i] += np.bincount(run[(states != HOLDS) & (states != FAILS)], minlength=number)
    rules = np.array(
        [_rule_states(i, judged, holds[i], fails[i], untold[i]) for i in range(len(judged.log.rules))]
    ).reshape(-1, number)
    return Counted(_run_states(rules, results), results, rules, fails + untold)


def _rule_states(i: int, judged: JudgedRuns, holds: np.ndarray, fails: np.ndarray, untold: np.ndarray) -> np.ndarray:
    """By the results of a run where it has any, else by its first and last reading."""
    first, last = judged.first[i], judged.last[i]
    ends = together(first, last)
    by_ends = np.select([ends == HOLDS, ends == FAILS], [READY, NOT_READY], CANNOT_BE_TOLD)
    by_results = np.select(
        [fails + untold == 0, (fails > 0) & (holds + untold == 0), fails > 0],
        [READY, NOT_READY, IN_PART],
        CANNOT_BE_TOLD,
    )
    states = np.where(holds + fails + untold > 0, by_results, by_ends)
    rule = judged.log.rules[i]
    if rule.kind == "delay" and not any(judged.log.has(role) for role in rule.roles):
        # Only results have such times: where there is no result nothing was read too late.
        states[holds + fails + untold == 0] = READY
    states[(states == CANNOT_BE_TOLD) & (first == HOLDS) & (last == FAILS)] = IN_PART
    return states


def _run_states(rules: np.ndarray, results: np.ndarray) -> np.ndarray:
    ready, not_ready, untold = results
    by_rules = np.select(
        [(rules == NOT_READY).any(axis=0), (rules == IN_PART).any(axis=0), (rules == CANNOT_BE_TOLD).any(axis=0)],
        [NOT_READY, IN_PART, CANNOT_BE_TOLD],
        READY,
    )
    by_results = np.select(
        [not_ready + untold == 0, (not_ready > 0) & (ready + untold == 0), not_ready > 0],
        [READY, NOT_READY, IN_PART],
        CANNOT_BE_TOLD,
    )
    states = np.where(results.sum(axis=0) > 0, by_results, by_rules)
    return np.where((states == CANNOT_BE_TOLD) & (by_rules == IN_PART), IN_PART, states)


def rules_in_words(judged: JudgedRuns, counted: Counted) -> tuple[ReadinessRule, ...]:
    def number(i: int, state: int) -> int:
        return int((counted.rules[i] == state).sum())

    return tuple(
        ReadinessRule(
            key=rule.key,
            title=rule.title,
            wording=rule.wording,
            source=rule.source,
            ready=number(i, READY),
            not_ready=number(i, NOT_READY),
            in_part=number(i, IN_PART),
            cannot_be_told=number(i, CANNOT_BE_TOLD),
        )
        for i, rule in enumerate(judged.log.rules)
    )


def runs_in_words(judged: JudgedRuns, counted: Counted) -> tuple[RunReadiness, ...]:
    log = judged.log
    return tuple(
        RunReadiness(
            run=name,
            row=row,
            state=STATES[counted.runs[i]],
            read=shown_span(first_shown(log, i), last_shown(log, i)),
            ready=int(counted.results[READY, i]),
            not_ready=int(counted.results[NOT_READY, i]),
            cannot_be_told=int(counted.results[CANNOT_BE_TOLD, i]),
        )
        for i, (name, row) in enumerate(zip(log.names, log.rows, strict=True))
    )


def exceptions(judged: JudgedRuns, counted: Counted, *, delayed: bool) -> tuple[ReadinessException, ...]:
    """Run by run; a rule that the log cannot answer at all is one exception for every run."""
    log = judged.log
    unanswered = [i for i, rule in enumerate(log.rules) if not answered(rule, judged, delayed=delayed)]
    totals = counted.results.sum(axis=0)
    general = tuple(
        ReadinessException(
            run="",
            rule=log.rules[i].key,
            title=log.rules[i].title,
            state="cannot be told",
            reason=f"not recorded: {' or '.join(log.rules[i].roles)}",
            results=int(counted.rule_results[i].sum()),
            of_results=int(totals.sum()),
        )
        for i in unanswered
    )
    open_ones = counted.rules != READY
    open_ones[unanswered] = False
    return general + tuple(
        ReadinessException(
            run=log.names[run],
            rule=log.rules[i].key,
            title=log.rules[i].title,
            state=STATES[counted.rules[i, run]],
            reason=reason(i, run, judged, by_results=delayed),
            results=int(counted.rule_results[i, run]),
            of_results=int(totals[run]),
        )
        for run, i in np.argwhere(open_ones.T).tolist()
    )


def answered(rule: Rule, judged: JudgedRuns, *, delayed: bool) -> bool:
    """Whether the log (or, of the developer, a table) has what the rule asks for."""
    recorded = any(judged.log.has(role) for role in rule.roles) or rule.last_day is not None
    return recorded or (rule.kind == "delay" and delayed)
