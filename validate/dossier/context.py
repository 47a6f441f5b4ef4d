"""What the templates receive: frozen dataclasses of text, ready to print.

`Page` is the one variable of the page template (`page`); the macros of parts.html get the
smaller views through filters. Templates hold no arithmetic: every number here is text
already, every reference an anchor. A test compares this file with the templates.
"""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from validate.dossier.criterion_context import CriterionView
from validate.dossier.portion_context import PortionView
from validate.dossier.seal_context import ReissueView, SealView
from validate.vocabulary.evaluation import (
    CatalogueExcerpt,
    Clause,
    Conclusion,
    Gap,
    MinimumDesign,
    Recorded,
    StudyEvaluation,
)
from validate.vocabulary.result_table import ResultTable

ANCHORS = (
    "identification",
    "conclusion",
    "requirements",
    "gaps",
    "minimum-designs",
    "clauses",
    "seal",
    "treatment",
    "readiness",
    "studies",
    "working",
    "uncertainty",
    "sampling",
    "limits",
    "cautions",
    "raw-data",
    "materials",
    "manifest",
    "criteria-sources",
    "software",
    "recompute",
    "sign-off",
    "glossary",
)
"""Anchors of the page's own parts; a study's section has `study-` and its name (see `words.study_anchor`)."""


@dataclass(frozen=True)
class Pair:
    """A label and its text."""

    label: str
    text: str


@dataclass(frozen=True)
class VerdictCount:
    """How many criteria have a verdict."""

    word: str
    slug: str
    count: str


@dataclass(frozen=True)
class DataRows:
    """Rows of one listing that a figure was computed from, as ranges."""

    anchor: str
    name: str
    ranges: str
    label: str


@dataclass(frozen=True)
class FindingRow:
    """One finding at one level. `missing` replaces value and limits; `recorded` is the figure without treatment."""

    anchor: str
    level: str
    value: str
    limits: str
    n: str
    df: str
    recorded: str
    missing: str
    working_anchor: str
    notes: tuple[str, ...]
    data: tuple[DataRows, ...]


@dataclass(frozen=True)
class FindingGroup:
    """All levels of one finding. `columns` and `note_columns` are column spans."""

    title: str
    symbol: str
    unit: str
    columns: int
    note_columns: int
    rows: tuple[FindingRow, ...]


@dataclass(frozen=True)
class RequirementGroup:
    """The criteria of one finding of one study, for the requirement table; `source` when all rows share it."""

    characteristic: str
    study_title: str
    study_anchor: str
    source: str
    rows: tuple[CriterionView, ...]


@dataclass(frozen=True)
class SymbolView:
    """What a symbol of a working stands for."""

    printed: str
    meaning: str
    unit: str
    value: str
    """Given for what the limits rest on where it is the same at every level."""


@dataclass(frozen=True)
class WorkingRow:
    """The values put in at one level. `filled` is markup made from escaped text.

    `limits` are the shown ones, `rests_on` what they need beside the sum and the symbols told
    once; `symbols` are those that mean something else at another level.
    """

    anchor: str
    finding_anchor: str
    level: str
    filled: Markup
    value: str
    unit: str
    symbols: tuple[SymbolView, ...]
    limits: str
    rests_on: Markup
    rows: str


@dataclass(frozen=True)
class WorkingView:
    """The working of one finding: its formula and that of its limits once, then a row for each level."""

    title: str
    symbol: str
    formula: Markup
    limits: Markup
    """Empty where the limits are no matter of a pocket calculator."""
    symbols: tuple[SymbolView, ...]
    limit_symbols: tuple[SymbolView, ...]
    words: Markup
    interval_method: str
    source: str
    rows: tuple[WorkingRow, ...]


@dataclass(frozen=True)
class ColumnView:
    title: str
    unit: str
    numeric: bool


@dataclass(frozen=True)
class CellView:
    text: str
    numeric: bool
    header: bool


@dataclass(frozen=True)
class TableView:
    """A result table as text; `wide` lets it use the margin; `left_out` says what was not printed."""

    wide: bool
    columns: tuple[ColumnView, ...]
    rows: tuple[tuple[CellView, ...], ...]
    left_out: str


@dataclass(frozen=True)
class StudySection:
    """One study: its evaluation, its rendered section and the notes for the margin."""

    anchor: str
    number: str
    study: StudyEvaluation
    body: Markup
    notes: tuple[Pair, ...]
    workings: tuple[WorkingView, ...]
    working_rows: tuple[Pair, ...]
    """For each level the rows of the table that its figures came from."""


@dataclass(frozen=True)
class Treatment:
    """One amendment or exclusion: what was done, by whom, when and why."""

    number: str
    what: str
    where: str
    change: str
    rows: str
    by: str
    on: str
    reason: str
    alone: str
    """For an exclusion among several: the verdicts that differ when it alone is lifted."""


@dataclass(frozen=True)
class ChangedFigure:
    """A figure that differs between as recorded and as reported."""

    finding: str
    study_title: str
    finding_anchor: str
    level: str
    recorded: str
    reported: str
    verdict_recorded: str
    verdict_reported: str


@dataclass(frozen=True)
class Listing:
    """A file as numbered lines."""

    anchor: str
    name: str
    role: str
    read_as: str
    size: str
    sha256: str
    text: str
    left_out: str


@dataclass(frozen=True)
class InputLine:
    name: str
    role: str
    size: str
    sha256: str
    anchor: str


@dataclass(frozen=True)
class Material:
    """A material as the protocol names it; `kept` says when this version only records it."""

    name: str
    facts: tuple[Pair, ...]
    kept: str


@dataclass(frozen=True)
class Signature:
    """One line of the sign-off block; the name comes from the protocol, the signature from a pen."""

    act: str
    name: str


@dataclass(frozen=True)
class Picture:
    """A picture outside of a study: its anchor, words, and SVG."""

    anchor: str
    title: str
    sentence: str
    svg: Markup


@dataclass(frozen=True)
class ReadinessView:
    """Section 4, where there is a run log. `chain` stands after the pictures."""

    sentences: tuple[str, ...]
    facts: tuple[Pair, ...]
    tables: tuple[ResultTable, ...]
    pictures: tuple[Picture, ...]
    chain: ResultTable


@dataclass(frozen=True)
class Heading:
    number: str
    title: str
    anchor: str


@dataclass(frozen=True)
class Page:
    """The whole dossier. Texts come from the evaluation and the input bytes and from nothing else."""

    title: str
    metadata: tuple[Pair, ...]
    """Name and content of meta elements; the PDF takes author and dates from them."""
    identification_line: str
    """Protocol, edition, laboratory: in the running head of every page."""
    origin_mark: str
    """Short words on invented data for every page; empty for measured data."""
    origin_sentence: str
    identification: tuple[Pair, ...]
    method: tuple[Pair, ...]
    conclusion: Conclusion
    verdict_counts: tuple[VerdictCount, ...]
    firm_sentence: str
    contents: tuple[Heading, ...]
    requirement_groups: tuple[RequirementGroup, ...]
    gaps: tuple[Gap, ...]
    minimum_designs: tuple[MinimumDesign, ...]
    clauses: tuple[Clause, ...]
    seal_sentences: tuple[str, ...]
    seal: SealView | None
    reissue: ReissueView | None
    amendments: tuple[Treatment, ...]
    exclusions: tuple[Treatment, ...]
    changed_figures: tuple[ChangedFigure, ...]
    same_figures_sentence: str
    recorded_only: tuple[Recorded, ...]
    readiness: ReadinessView | None
    """None without a run log."""
    portion: PortionView | None
    studies: tuple[StudySection, ...]
    limits: tuple[Pair, ...]
    """Study title and its limits of use."""
    uncertainty_sentence: str
    omitted_sentence: str
    listings: tuple[Listing, ...]
    materials: tuple[Material, ...]
    inputs: tuple[InputLine, ...]
    catalogue: tuple[CatalogueExcerpt, ...]
    notices: tuple[str, ...]
    software: str
    self_check: str
    """What to say of the check values of the software; empty when they were not run."""
    self_check_failure: str
    """Warning for the first page; empty when all check values are reached."""
    installed_files: str
    """Hash of the software's files; may be empty."""
    signatures: tuple[Signature, ...]
