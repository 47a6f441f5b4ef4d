"""Readiness as printable views: rules, tables, exceptions, time line, and the chain behind each result."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from validate.dossier import numbers
from validate.dossier.context import Pair, Picture, ReadinessView
from validate.dossier.words import Words
from validate.vocabulary.readiness import ReadinessException, ReadinessResult, RunReadiness, TableReadiness
from validate.vocabulary.result_table import ResultTable, TableColumn

TREATMENTS = {
    "exclude": "left out of every figure as reported; they stay in the figures as recorded and in the listing",
    "mark": "kept in every figure and marked",
    "stop": "refused: no dossier is written",
}
LONGEST_SPANS = 400
NO_RULES = "The protocol states no rule on readiness. Runs and what stood behind them are listed; nothing is judged."


def readiness_view(result: ReadinessResult, words: Words) -> ReadinessView:
    """Everything that section 4 prints of an evaluated run log."""
    return ReadinessView(
        sentences=result.sentences or ((NO_RULES,) if not result.rules else ()),
        facts=_facts(result),
        tables=tuple(_tables(result)),
        pictures=tuple(
            Picture(f"plot-readiness-{plot.name}", plot.title, plot.sentence, words.draw_alone(plot, "plot-readiness"))
            for plot in result.plots
        ),
        chain=_dashed(result.chain, "Results"),
    )


def _facts(result: ReadinessResult) -> tuple[Pair, ...]:
    zone = f", times in {result.time_zone}" if result.time_zone else ", times as the laboratory's clock showed them"
    facts = [Pair("Run log", f"{result.log}, {numbers.whole(len(result.runs))} runs{zone}")]
    if result.rules:
        facts.append(Pair("Results made while not ready", TREATMENTS[result.when_not_ready]))
        facts.append(Pair("Results of which it cannot be told", TREATMENTS[result.when_cannot_be_told]))
    return tuple(facts)


def _tables(result: ReadinessResult) -> Iterable[ResultTable]:
    if result.rules:
        yield _rules(result)
        yield _table(
            "results",
            "Results by the readiness of their runs",
            ("Table", "Results", "Ready", "Not ready", "Cannot be told", "Rows not ready", "Rows that cannot be told"),
            [_of_table(table) for table in result.tables],
        )
    if result.exceptions:
        yield _table(
            "exceptions",
            "Exceptions: rules that did not hold, or of which that cannot be told",
            ("Run", "Rule", "State", "Why", "Results"),
            [_exception(item) for item in result.exceptions],
        )
    open_runs = [run for run in result.runs if run.state != "ready"]
    if open_runs and result.rules:
        yield _table(
            "runs",
            "Runs that were not plainly ready",
            ("Run", "State", "Read", "Results ready", "not ready", "cannot be told"),
            [_run(run) for run in open_runs],
        )


def _rules(result: ReadinessResult) -> ResultTable:
    return _table(
        "rules",
        "Rules of the protocol, and the runs in which they held",
        ("Rule", "Asked", "Source", "Held", "Not held", "In part", "Cannot be told"),
        [
            (
                rule.title,
                rule.wording,
                rule.source or "none is named",
                *(numbers.whole(n) for n in (rule.ready, rule.not_ready, rule.in_part, rule.cannot_be_told)),
            )
            for rule in result.rules
        ],
    )


def _of_table(table: TableReadiness) -> tuple[str, ...]:
    counts = (table.results, table.ready, table.not_ready, table.cannot_be_told)
    without = f" ({numbers.whole(table.without_run)} without a run)" if table.without_run else ""
    return (
        f"{table.file}, {table.study}",
        *map(numbers.whole, counts[:3]),
        numbers.whole(counts[3]) + without,
        row_spans(table.rows_not_ready),
        row_spans(table.rows_cannot_be_told),
    )


def _exception(item: ReadinessException) -> tuple[str, ...]:
    results = f"{numbers.whole(item.results)} of {numbers.whole(item.of_results)}" if item.of_results else "none"
    return (item.run or "every run", item.title, item.state, item.reason, results)


def _run(run: RunReadiness) -> tuple[str, ...]:
    return (
        run.run,
        run.state,
        run.read or "not recorded",
        *(numbers.whole(n) for n in (run.ready, run.not_ready, run.cannot_be_told)),
    )


def _table(name: str, title: str, titles: Sequence[str], rows: Iterable[tuple[str, ...]]) -> ResultTable:
    columns = tuple(TableColumn(title=text, kind="text") for text in titles)
    return ResultTable(name=name, title=title, columns=columns, rows=tuple(rows))


def _dashed(table: ResultTable, title: str) -> ResultTable:
    """The table with row ranges set as ranges."""
    at = [column.title for column in table.columns].index(title)
    rows = tuple(tuple(_spans(cell) if i == at else cell for i, cell in enumerate(row)) for row in table.rows)
    return ResultTable(name=table.name, title=table.title, columns=table.columns, rows=rows, note=table.note)


def _spans(cell: object) -> str:
    """`recovery.csv: 2-11, 13` with en dashes in the rows; a hyphen of the file's name stays."""
    parts = []
    for part in str(cell).split("; "):
        file, _, rows = part.partition(": ")
        parts.append(f"{file}: {row_spans(rows)}" if rows else part)
    return "; ".join(parts)


def row_spans(rows: str) -> str:
    """`2-4, 7` with en dashes, as far as a cell of a table can hold."""
    if len(rows) > LONGEST_SPANS:
        rows = f"{rows[: rows.rindex(',', 0, LONGEST_SPANS)]} and more (evaluation.json holds them all)"
    return rows.replace("-", numbers.EN_DASH)
