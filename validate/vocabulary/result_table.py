"""A table of results: what it holds, not how it is set."""

from __future__ import annotations

from typing import Literal

from pydantic.dataclasses import dataclass

from validate.vocabulary import FROZEN


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class TableColumn:
    title: str
    unit: str = ""
    kind: Literal["text", "number"] = "number"


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class ResultTable:
    """A table of results or diagnostics; numbers stay full doubles, the dossier rounds them."""

    name: str
    title: str
    columns: tuple[TableColumn, ...]
    rows: tuple[tuple[str | float | None, ...], ...]
    note: str = ""
