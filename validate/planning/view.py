"""What the bench sheet prints: dataclasses of text, documented for those who write `bench.html`."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Pair:
    label: str
    text: str


@dataclass(frozen=True)
class SpikeRow:
    """One line of the table of spikes."""

    level: str
    add: str
    """Volume or mass, with its unit; a dash when it is not computed."""
    of: str
    """Solution and its content."""
    amount: str
    """Mass of analyte in it."""
    pipette: str
    portions: str


@dataclass(frozen=True)
class DecisionRow:
    """What the design can decide about one criterion."""

    title: str
    levels: str
    bound: str
    judged: str
    chances: tuple[Pair, ...]
    """True method in words, and its chance of `met`."""
    verdictless: str
    """Why there will be no verdict; empty when there can be one."""
    size: str
    """Whether the planned size suffices, or how many would."""
    assumed: str


@dataclass(frozen=True)
class GuideRow:
    """What a guide asks for and what is planned."""

    source: str
    asked: str
    planned: str
    short: bool


@dataclass(frozen=True)
class BenchRow:
    """One line to be worked off."""

    code: str
    label: str
    add: str


@dataclass(frozen=True)
class BenchPage:
    """What one analyst does on one day."""

    anchor: str
    heading: str
    """`day 2 of 6`, `day 2 of 6, analyst 1`."""
    rows: tuple[BenchRow, ...]
    weighed: str
    """Unit of the portion, for the column where its mass is written; empty when none is weighed."""
    dense: bool
    """Whether lower rows keep the day on one page."""


@dataclass(frozen=True)
class StudyView:
    """One study on the sheet: what `bench.html` of its kind receives as `study`."""

    name: str
    title: str
    question: str
    has_plan: bool
    shares: str
    """The study whose table this one reads: then there is nothing of its own to measure."""
    codes: str
    """`A-001 to A-060`; empty without positions."""
    needs: str
    """Sample needed in all, in words; empty when it is not known."""
    steps: tuple[str, ...]
    records: tuple[str, ...]
    cautions: tuple[str, ...]
    told: tuple[str, ...]
    spikes: tuple[SpikeRow, ...]
    decisions: tuple[DecisionRow, ...]
    together: str
    """How often all criteria are to be met together, and what that asks of each."""
    guides: tuple[GuideRow, ...]
    pages: tuple[BenchPage, ...]
    sheet: str
    """Its sheet in the entry workbook; empty when it has none."""


@dataclass(frozen=True)
class SheetView:
    """The whole bench sheet."""

    title: str
    identification: str
    metadata: tuple[Pair, ...]
    origin_mark: str
    facts: tuple[Pair, ...]
    portion: tuple[str, ...]
    materials: tuple[Pair, ...]
    ready: tuple[Pair, ...]
    """What to look at before a session: check, and what it must be."""
    unit: str
    notices: tuple[str, ...]
    studies: tuple[StudyView, ...]
