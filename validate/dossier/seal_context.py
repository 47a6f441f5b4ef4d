"""What the templates receive on seal and reissue: text, ready to print."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SealChangeRow:
    """One sealed part that was changed; `number` of the revision, a dash without one."""

    number: str
    part: str
    before: str
    after: str
    reason: str
    when: str


@dataclass(frozen=True)
class SealView:
    """The seal beside the protocol and every change since."""

    facts: tuple[tuple[str, str], ...]
    """Label and text."""
    changes: tuple[SealChangeRow, ...]


@dataclass(frozen=True)
class ReissuedRow:
    """A finding that differs from the superseded dossier."""

    finding: str
    study: str
    anchor: str
    level: str
    before: str
    after: str
    verdict_before: str
    verdict_after: str


@dataclass(frozen=True)
class ReissueView:
    """What the dossier says of the one that it supersedes."""

    sentence: str
    figures: tuple[ReissuedRow, ...]
    files: tuple[str, ...]
