"""What a reissued dossier says of the one that it supersedes."""

from __future__ import annotations

from pydantic.dataclasses import dataclass

from validate.vocabulary import FROZEN


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class ReissuedFigure:
    """A finding that differs from the superseded dossier; None where it was not or is no more."""

    study: str
    finding: str
    level: str | None
    unit: str
    before: float | None
    after: float | None
    verdict_before: str
    verdict_after: str
    """Of the first criterion on it; empty where nothing judges it."""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class ReissuedFile:
    """An input that differs from the superseded dossier, in a sentence."""

    name: str
    change: str


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Reissue:
    """The superseded dossier and everything that changed."""

    title: str
    """Identification of the superseded dossier."""
    reason: str
    evaluation_sha256: str
    software: str
    compared: int
    """Findings that both dossiers have."""
    figures: tuple[ReissuedFigure, ...]
    files: tuple[ReissuedFile, ...]
