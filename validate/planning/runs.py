"""The sheet of the entry workbook for the run log: one row a run, with the columns that the rules ask for."""

from __future__ import annotations

from collections.abc import Collection

from validate.planning.workbook import EntrySheet, SheetColumn
from validate.protocol.model import Protocol
from validate.protocol.readiness import RunLog
from validate.readiness.rules import log_columns
from validate.tables.table import Column
from validate.vocabulary.bench import Entry

OPEN_RUNS = 100
"""Empty rows for runs."""
NAME = "run log"


def log_sheet(protocol: Protocol, taken: Collection[str]) -> EntrySheet:
    """Columns named as the protocol maps them; `taken` are the names of the other sheets."""
    name, number = NAME, 1
    while name in taken:
        number += 1
        name = f"{NAME} {number}"
    columns = tuple(
        SheetColumn(_header(protocol.runs, column), column, Entry(role=column.role)) for column in log_columns(protocol)
    )
    return EntrySheet(name, "run log", columns, ({},) * OPEN_RUNS)


def _header(runs: RunLog, column: Column) -> str:
    name, unit = runs.columns.get(column.role, column.role), runs.units.get(column.role, column.unit)
    return f"{name} [{unit}]" if unit else name
