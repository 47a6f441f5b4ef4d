"""What happens to results that were not made while ready: left out, kept and marked, or refused. Never silent."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from validate.readiness.rows import CANNOT_BE_TOLD, NOT_READY, READY, JudgedRows, JudgedRuns
from validate.readiness.telling import PROBLEMS
from validate.readiness.validity import FAILS, HOLDS
from validate.tables.reading import TableReading
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import Exclusion
from validate.vocabulary.problem import Problem
from validate.vocabulary.readiness import TableReadiness

if TYPE_CHECKING:
    from validate.protocol.model import Protocol

MARK = "mark"
BY = "rule of the protocol on readiness"
_MOST_RUNS_NAMED = 8
KEPT = {NOT_READY: MARK, CANNOT_BE_TOLD: MARK}
"""What is done for a study that keeps such results by its own key."""
_WORDS = {NOT_READY: "not ready", CANNOT_BE_TOLD: "cannot be told whether ready"}


@dataclass(frozen=True)
class Treated:
    """The table after the rule of the protocol, and what is said of it."""

    reading: TableReading
    summary: TableReadiness
    problems: tuple[Problem, ...]


def treatments(protocol: Protocol) -> dict[int, str]:
    """State → what the protocol wants done with results in it."""
    readiness = protocol.readiness
    return {
        NOT_READY: (readiness and readiness.when_not_ready) or MARK,
        CANNOT_BE_TOLD: (readiness and readiness.when_cannot_be_told) or MARK,
    }


def treat(table: JudgedRows, judged: JudgedRuns, *, keeps: bool = False) -> Treated:
    """Leave out, mark or refuse the results of a table that were not made while ready; only mark where it `keeps`."""
    log, state = judged.log, table.state
    wanted = KEPT if keeps else treatments(log.protocol)
    groups: list[tuple[Exclusion, list[int]]] = []
    problems: list[Problem] = list(table.problems)
    for kind, treatment in wanted.items():
        mask = state == kind
        if treatment == "exclude" and mask.any():
            groups += _exclusions(table, judged, kind, mask)
        elif treatment == "stop" and mask.any():
            problems.append(_stopped(table, kind, mask))
    reading = table.reading.leaving_out(groups) if groups else table.reading
    if groups and reading.reported.frame.empty and not table.reading.reported.frame.empty:
        why = "; ".join(exclusion.reason for exclusion, _ in groups[:3])
        problems.append(
            PROBLEMS.problem("readiness-leaves-nothing", log.place("readiness"), file=table.reading.name, why=why)
        )
        reading = table.reading
    return Treated(reading, _summary(table, wanted), tuple(problems))


def _exclusions(
    table: JudgedRows, judged: JudgedRuns, kind: int, mask: np.ndarray
) -> list[tuple[Exclusion, list[int]]]:
    """One exclusion for each set of rules that were not held together."""
    log = judged.log
    broken = (table.states == FAILS) if kind == NOT_READY else (table.states != HOLDS)
    sets = np.vstack([broken, table.run < 0])[:, mask]
    distinct, member = np.unique(sets, axis=1, return_inverse=True)
    rows, run = table.rows[mask], table.run[mask]
    groups = []
    for j, chosen in enumerate(distinct.T):
        of_set = member.reshape(-1) == j
        titles = [f"{rule.title} ({rule.wording})" for rule, out in zip(log.rules, chosen, strict=False) if out]
        why = "; ".join(titles) if not chosen[-1] else "no run is named"
        names = [log.names[i] for i in np.unique(run[of_set]).tolist() if i >= 0]
        more = len(names) - _MOST_RUNS_NAMED
        shown = ", ".join(names[:_MOST_RUNS_NAMED]) + (f" and {more} more" if more > 0 else "")
        exclusion = Exclusion(
            file=table.reading.name,
            where={"run": shown or "none"},
            by=BY,
            on=log.protocol.issued.isoformat(),
            reason=f"{_WORDS[kind][:1].upper()}{_WORDS[kind][1:]}: {why}",
            rows=row_ranges(rows[of_set]),
        )
        groups.append((exclusion, rows[of_set].tolist()))
    return groups


def _stopped(table: JudgedRows, kind: int, mask: np.ndarray) -> Problem:
    why = "were made while not ready" if kind == NOT_READY else "cannot be told to have been made while ready"
    first = int(table.rows[mask][0])
    return PROBLEMS.problem(
        "stopped",
        table.reading.cell(first, "run"),
        count=f"{int(mask.sum()):,} of {len(mask):,} results",
        file=table.reading.name,
        why=why,
        rows=row_ranges(table.rows[mask]),
    )


def _summary(table: JudgedRows, wanted: dict[int, str]) -> TableReadiness:
    state = table.state
    numbers = {kind: int((state == kind).sum()) for kind in (READY, NOT_READY, CANNOT_BE_TOLD)}
    return TableReadiness(
        study=table.study,
        file=table.reading.name,
        results=len(state),
        ready=numbers[READY],
        not_ready=numbers[NOT_READY],
        cannot_be_told=numbers[CANNOT_BE_TOLD],
        without_run=int((table.run < 0).sum()),
        rows_not_ready=row_ranges(table.rows[state == NOT_READY]),
        rows_cannot_be_told=row_ranges(table.rows[state == CANNOT_BE_TOLD]),
        sentence=sentence(numbers, len(state), wanted),
    )


def sentence(numbers: dict[int, int], results: int, wanted: dict[int, str]) -> str:
    """What was found and done, in words; empty when all were ready."""
    parts = []
    if count := numbers[NOT_READY]:
        found = f"{count:,} of {results:,} results were made while not ready"
        parts.append(f"{found}; they are {_done(wanted[NOT_READY])}")
    if count := numbers[CANNOT_BE_TOLD]:
        found = f"Of {count:,} of {results:,} results it cannot be told whether they were made while ready"
        parts.append(f"{found}; they are {_done(wanted[CANNOT_BE_TOLD])}")
    return " ".join(parts)


def _done(treatment: str) -> str:
    return {
        "exclude": "left out of the figures as reported, by the protocol's rule.",
        "mark": "kept in every figure, by the protocol's rule.",
        "stop": "refused, by the protocol's rule.",
    }[treatment]


def totals(tables: Sequence[JudgedRows], number_of: Callable[[JudgedRows, int], int]) -> dict[int, int]:
    """Numbers over all tables; a table that two studies read counts once."""
    distinct = {table.reading.name: table for table in tables}.values()
    return {kind: sum(number_of(table, kind) for table in distinct) for kind in (READY, NOT_READY, CANNOT_BE_TOLD)}
