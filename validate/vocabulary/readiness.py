"""What is said of readiness: rules, runs, exceptions, and the results of each table."""

from __future__ import annotations

from typing import Literal

from pydantic.dataclasses import dataclass

from validate.vocabulary import FROZEN
from validate.vocabulary.plot import Plot
from validate.vocabulary.result_table import ResultTable

State = Literal["ready", "not ready", "not ready in part", "cannot be told"]


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class ReadinessRule:
    """A rule of the protocol, and for how many runs it held."""

    key: str
    """Keys below `readiness` in the protocol, joined by dots."""
    title: str
    wording: str
    source: str
    ready: int
    not_ready: int
    in_part: int
    cannot_be_told: int


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class RunReadiness:
    """One run of the log and the results that name it."""

    run: str
    row: int
    state: State
    read: str
    """From the first to the last reading."""
    ready: int
    not_ready: int
    cannot_be_told: int


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class ReadinessException:
    """A rule that did not hold, or of which that cannot be told, in one run (empty: in every run)."""

    run: str
    rule: str
    """Key of the rule."""
    title: str
    state: State
    reason: str
    results: int
    """Results of the run of which the rule did not hold or cannot be told."""
    of_results: int


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class TableReadiness:
    """The results of one study's table."""

    study: str
    file: str
    results: int
    ready: int
    not_ready: int
    cannot_be_told: int
    without_run: int
    rows_not_ready: str
    rows_cannot_be_told: str
    sentence: str
    """What happened to them, for the study's own section; empty when all were ready."""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class ReadinessResult:
    """Readiness as evaluated from the run log."""

    log: str
    time_zone: str
    when_not_ready: Literal["exclude", "mark", "stop"]
    when_cannot_be_told: Literal["exclude", "mark", "stop"]
    rules: tuple[ReadinessRule, ...]
    runs: tuple[RunReadiness, ...]
    exceptions: tuple[ReadinessException, ...]
    tables: tuple[TableReadiness, ...]
    chain: ResultTable
    """For each run its results, and the calibration, checks and lots behind them."""
    plots: tuple[Plot, ...]
    sentences: tuple[str, ...]
    """For the first page: how many results were made while ready, and what happened to the others."""
