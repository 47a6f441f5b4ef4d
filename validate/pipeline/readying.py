"""The run log of a protocol, and its say on every study's table before anything is computed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from validate.vocabulary.problem import Problem

if TYPE_CHECKING:
    from validate.protocol.loading import LoadedProtocol
    from validate.tables.reading import TableReading
    from validate.vocabulary.place import Place
    from validate.vocabulary.readiness import ReadinessResult


@dataclass(frozen=True)
class Readied:
    """Tables after the protocol's rule on readiness; without a run log they are as read."""

    readings: Mapping[str, TableReading]
    log: TableReading | None = None
    result: ReadinessResult | None = None
    problems: tuple[Problem, ...] = field(default=())


def ready(loaded: LoadedProtocol, readings: Mapping[str, TableReading], amendments: list[tuple[Any, Place]]) -> Readied:
    """Judge the results of every table by the run log. An error in the log leaves the tables as they are."""
    protocol = loaded.protocol
    if protocol.runs is None:
        return Readied(readings)
    from validate.readiness.log import read_run_log
    from validate.readiness.result import assess

    read = read_run_log(loaded, amendments)
    if read.log is None:
        return Readied(readings, read.reading, None, read.problems)
    tables = {name: (reading, protocol.studies[name].data) for name, reading in readings.items()}
    keeping = [name for name in tables if protocol.studies[name].keeps_not_ready]
    assessed = assess(read.log, tables, keeping)
    return Readied(assessed.readings, read.reading, assessed.result, (*read.problems, *assessed.problems))
