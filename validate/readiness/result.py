"""The readiness of an evaluation: runs judged once, tables judged against them, everything in words."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from validate.protocol.settings import DataSource
from validate.readiness.chain import chain
from validate.readiness.contradictions import contradictions
from validate.readiness.log import RunLog
from validate.readiness.rows import CANNOT_BE_TOLD, NOT_READY, READY, JudgedRows, JudgedRuns, judge_rows, judge_runs
from validate.readiness.telling import PROBLEMS, capped
from validate.readiness.timeline import timeline
from validate.readiness.treating import KEPT, Treated, sentence, totals, treat, treatments
from validate.readiness.verdicts import count, exceptions, rules_in_words, runs_in_words
from validate.tables.reading import TableReading
from validate.vocabulary.problem import Problem
from validate.vocabulary.readiness import ReadinessResult

if TYPE_CHECKING:
    from validate.protocol.model import Protocol


@dataclass(frozen=True)
class Assessed:
    """Tables after the treatment that the protocol wants, by study; the result; every problem."""

    readings: Mapping[str, TableReading]
    result: ReadinessResult
    problems: tuple[Problem, ...]


def assess(
    log: RunLog, tables: Mapping[str, tuple[TableReading, DataSource]], keeping: Collection[str] = ()
) -> Assessed:
    """Judge every run and every result, and treat the tables by the protocol's rule; those of `keeping` are marked."""
    judged = judge_runs(log)
    rows = {name: judge_rows(name, reading, source, judged) for name, (reading, source) in tables.items()}
    treated = {name: treat(table, judged, keeps=name in keeping) for name, table in rows.items()}
    result = _result(judged, rows, treated, keeping)
    problems = [*contradictions(log), *_told(result, log, keeping)]
    problems += [problem for one in treated.values() for problem in one.problems]
    return Assessed({name: one.reading for name, one in treated.items()}, result, tuple(problems))


def _result(
    judged: JudgedRuns, rows: Mapping[str, JudgedRows], treated: Mapping[str, Treated], keeping: Collection[str]
) -> ReadinessResult:
    log, tables = judged.log, list(rows.values())
    counted = count(judged, tables)
    wanted = treatments(log.protocol)
    return ReadinessResult(
        log=log.reading.name,
        time_zone=log.protocol.runs.time_zone or "",
        when_not_ready=wanted[NOT_READY],
        when_cannot_be_told=wanted[CANNOT_BE_TOLD],
        rules=rules_in_words(judged, counted),
        runs=runs_in_words(judged, counted),
        exceptions=exceptions(judged, counted, delayed=any(table.delayed for table in tables)),
        tables=tuple(one.summary for one in treated.values()),
        chain=chain(log, tables),
        plots=timeline(judged, counted) if log.rules else (),
        sentences=_sentences(log.protocol, rows, wanted, keeping) if log.rules else (),
    )


def _sentences(
    protocol: Protocol, rows: Mapping[str, JudgedRows], wanted: dict[int, str], keeping: Collection[str]
) -> tuple[str, ...]:
    """One for the tables under the protocol's rule, and one for those that keep what was not ready."""
    told = []
    for kept in (False, True):
        names = [name for name in rows if (name in keeping) is kept]
        tables = [rows[name] for name in names]
        numbers = totals(tables, lambda table, kind: int((table.state == kind).sum()))
        results = sum(numbers.values())
        if not results:
            continue
        all_ready = f"All {numbers[READY]:,} results were made in runs that were ready to measure."
        words = sentence(numbers, results, KEPT if kept else wanted) or all_ready
        told.append(f"In {_titles(protocol, names)}: {words[:1].lower()}{words[1:]}" if kept else words)
    return tuple(told)


def _titles(protocol: Protocol, names: Iterable[str]) -> str:
    """The studies as they are titled on their own pages, by their key where the protocol gives no title."""
    return ", ".join(protocol.studies[name].title or name for name in names)


def _told(result: ReadinessResult, log: RunLog, keeping: Collection[str]) -> list[Problem]:
    """Every run that was not plainly ready, as a notice at its row."""
    but = f"; {', '.join(keeping)} keeps and marks them" if keeping else ""
    why: dict[str, list[str]] = {}
    for one in result.exceptions:
        why.setdefault(one.run, []).append(f"{one.title} ({one.reason})")
    problems = []
    for run in result.runs:
        if run.state == "ready" or run.run not in why:
            continue
        number = run.ready + run.not_ready + run.cannot_be_told
        not_told = run.state == "cannot be told"
        problems.append(
            PROBLEMS.problem(
                "run-not-told" if not_told else "run-not-ready",
                log.reading.cell(run.row, "run"),
                run=run.run,
                state=run.state,
                why="; ".join(why[run.run]),
                results=f"{number:,} results" if number != 1 else "1 result",
                mend=_mend(result.when_cannot_be_told if not_told else result.when_not_ready) + but,
            )
        )
    return capped(problems)


def _mend(treatment: str) -> str:
    return {
        "exclude": "the protocol leaves such results out of the figures as reported",
        "mark": "the protocol keeps such results and marks them",
        "stop": "the protocol refuses such results",
    }[treatment]
