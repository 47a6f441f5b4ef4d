"""What the templates receive of criteria: one, and the levels of one together."""

from __future__ import annotations

from dataclasses import dataclass

from validate.vocabulary.evaluation import Criterion, Judgement, PassChance


@dataclass(frozen=True)
class CriterionView:
    """One criterion with its judgement, in words."""

    anchor: str
    title: str
    level: str
    kind: str
    wording: str
    found: str
    limits: str
    finding_anchor: str
    judged_by: str
    judgement: Judgement
    exception: str
    recorded_sentence: str
    source: str
    source_in_table: str
    criterion: Criterion
    chances: tuple[PassChance, ...]


@dataclass(frozen=True)
class WorthRow:
    """The chances to pass of a method with one true value, in the order of the group's rows."""

    truth: str
    chances: tuple[str, ...]


@dataclass(frozen=True)
class CriterionGroup:
    """The levels of one criterion: its bound and source once, a row for each level."""

    title: str
    kind: str
    wording: str
    judged_by: str
    source: str
    reason: str
    exceptions: tuple[str, ...]
    notes: tuple[str, ...]
    rows: tuple[CriterionView, ...]
    worth: tuple[WorthRow, ...]
