"""The words of the bench: what a study plans, before anything was measured.

A study's `plan` says in these words which portions are measured, what goes into them, what
is written down, and how its figures would scatter. It draws nothing, orders nothing and
pipettes nothing: `planning` brings the positions into a random order within day and
analyst, gives them their codes, computes the volumes of spikes and the chance of each
verdict, and makes the bench sheet and the entry workbook from all of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from itertools import islice
from typing import Literal

from validate.vocabulary.finding import Sampling

MOST_POSITIONS = 5000
"""Positions that the plan of one study may have."""


@dataclass(frozen=True, kw_only=True)
class Spike:
    """What is added to a portion."""

    content: float
    """Content to add, in the method's unit: the content of the portion rises by it."""
    into: Literal["sample", "extract"] = "sample"
    materials: tuple[str, ...] = ()
    """Materials of the protocol that may be used; empty for every material of kind `solution`."""


@dataclass(frozen=True, kw_only=True)
class Position:
    """One result to be measured: one row of the entry table and one line of the bench sheet."""

    day: int = 1
    """Number of the day (or other block) on which it is measured, from 1."""
    analyst: int | None = None
    """Number of the analyst who measures it, from 1; None when the design does not say."""
    label: str
    """What goes into the vessel, for the bench: `blank coffee, spiked to 5 µg/kg`."""
    level: str | None = None
    """Level as declared in the protocol; a problem of a spike points at it."""
    replicate: int | None = None
    portion: bool = True
    """Whether a test portion of the method is weighed for it; False for a standard that is read as it is."""
    spike: Spike | None = None
    cells: Mapping[str, str] = field(default_factory=dict)
    """Role of the entry table → text that the plan already knows."""


def bounded(positions: Iterable[Position]) -> tuple[Position, ...]:
    """Positions as they are made, cut at one more than may be: a million replicates are refused, not counted out."""
    return tuple(islice(positions, MOST_POSITIONS + 1))


@dataclass(frozen=True, kw_only=True)
class Entry:
    """A column of the entry table. Name, title, type and unit come from the study's `Column` of that role."""

    role: str
    filled: Literal["plan", "proposed", "bench"] = "bench"
    """`plan`: from `Position.cells`, locked; `proposed`: from there, may be overwritten; `bench`: empty and open."""
    allowed: tuple[str, ...] = ()
    """The only texts that may be entered; empty when there is no such list."""
    low: float | None = None
    high: float | None = None
    """Range of a number, in the unit of the column. A cell outside asks for a second look
    where censored results may stand (`<2` is no number), and is refused elsewhere."""


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """What a study would have at some size: the law of an estimate, and what it rests on."""

    sampling: Sampling
    n: int | None = None
    """Results behind the estimate."""
    groups: int | None = None
    """Groups (days) behind a between-group figure."""


@dataclass(frozen=True, kw_only=True)
class Foresight:
    """How the estimate of one finding would scatter in this design, for the chance of a verdict."""

    finding: str
    level: str | None
    size: int
    """As planned."""
    sized: str
    """What `size` counts, in the plural: `results at the level`, `days`."""
    at: Callable[[int], Outlook]
    """Size → what the study would have then. Called with sizes other than the planned one
    to find how many would suffice; raises ValueError for a size that gives no estimate."""
    assumed: str = ""
    """What the law rests on: `single results scatter with 7.5 % RSD (half of the bound; assumed)`."""


@dataclass(frozen=True, kw_only=True)
class StudyPlan:
    """What the bench is to do for one study."""

    positions: tuple[Position, ...]
    """In systematic order, made with `bounded`; `planning` randomises them and refuses too many."""
    entries: tuple[Entry, ...]
    """Columns of the entry table in their order; columns of the study that are not named are not asked for."""
    code_role: str = ""
    """Role of the column that takes the code of the portion; empty when the table has none."""
    day_word: str = "day"
    """What a block is called on the bench sheet."""
    steps: tuple[str, ...] = ()
    """What to do, in sentences, in order."""
    records: tuple[str, ...] = ()
    """What has to be written down beside the results."""
    cautions: tuple[str, ...] = ()
    """Warnings that only this kind of study needs."""
    foresights: tuple[Foresight, ...] = ()
    told: tuple[str, ...] = ()
    """Sentences on what this design can and cannot decide that follow from no bound."""


@dataclass(frozen=True, kw_only=True)
class Assumed:
    """What a plan supposes of the method; the protocol's `plan: {assume: …}` or defaults that say so."""

    rsd_percent: float | None = None
    """RSD of single results on one day; None when the protocol gives none."""
    variance_ratio: float = 1.0
    """γ: variance between days over variance within a day."""
    power: float = 0.8
    """Chance of `met` that all criteria of a study together should have."""
