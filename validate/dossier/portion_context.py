"""What the templates receive of the portion chain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup

from validate.vocabulary.result_table import ResultTable

if TYPE_CHECKING:
    from validate.dossier.context import SymbolView


@dataclass(frozen=True)
class PortionFigureView:
    """A figure of the chain: formula, values put in, result."""

    title: str
    symbol: str
    formula: Markup
    filled: Markup
    value: str
    unit: str
    symbols: tuple[SymbolView, ...]
    words: str
    source: str


@dataclass(frozen=True)
class PortionView:
    """From the test portion to what is read."""

    sentences: tuple[str, ...]
    steps: ResultTable
    figures: tuple[PortionFigureView, ...]
    rows: tuple[str, ...]
    """Of each table that records portions of its own, how they compare."""
