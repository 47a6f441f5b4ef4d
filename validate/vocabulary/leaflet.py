"""What a study gives out beside the dossier: leaflets for single readers, tables, a dossier from a part of the inputs.

A study says what stands on a leaflet; the dossier sets it with its own typography, and the
pipeline makes the files.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from validate.vocabulary.plot import Plot
from validate.vocabulary.result_table import ResultTable


@dataclass(frozen=True, kw_only=True)
class Paragraphs:
    title: str
    texts: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Facts:
    """Pairs of a label and a text."""

    title: str
    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class MarkedPlot:
    """One picture that many leaflets share; it is drawn once, and each marks its own place on the x axis."""

    plot: Plot
    at: float | None
    """None: nothing is marked."""


@dataclass(frozen=True, kw_only=True)
class Form:
    """Fields to be filled in, on screen or by hand: label and number of lines."""

    title: str
    text: str
    fields: tuple[tuple[str, int], ...]


Block = Paragraphs | Facts | MarkedPlot | Form | ResultTable


@dataclass(frozen=True, kw_only=True)
class Leaflet:
    """A short document for one reader. `name` is its place below the dossier's folder, without an ending."""

    name: str
    title: str
    lead: tuple[str, ...]
    blocks: tuple[Block, ...]
    end: str
    """What stands at its clear end."""


@dataclass(frozen=True, kw_only=True)
class Extract:
    """A dossier of its own from the same protocol and a part of the study's table, by column of the study."""

    folder: str
    """Where it stands below the dossier's folder."""
    mark: str
    """What stands behind the protocol's title."""
    leave: tuple[str, ...]
    """Roles whose columns leave; so does every column that the study does not read."""
    order_by: str
    """Role whose texts give the order of the rows."""
    reasons: bool
    """Whether the reasons for corrections and exclusions of its rows, and who decided, go with it."""
    statement: str
    """What the dossier says of itself: what it leaves out."""
    files: Mapping[str, bytes] = field(default_factory=dict)
    """Further files of the study, each without what is confidential."""


@dataclass(frozen=True, kw_only=True)
class Packages:
    """All that a study gives out beside the dossier."""

    leaflets: Sequence[Leaflet] = ()
    tables: tuple[ResultTable, ...] = ()
    """Written in full, each as CSV and all into one workbook."""
    extract: Extract | None = None
