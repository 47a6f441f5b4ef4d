"""What an installation says of itself: the check values it reaches, and the files it consists of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass as plain_dataclass

from pydantic.dataclasses import dataclass

from validate.vocabulary import FROZEN
from validate.vocabulary.check import Outcome


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class SelfCheckSummary:
    """Counts that are the same on every machine whose arithmetic is sound; they travel in evaluation.json."""

    checks: int
    passed: int
    figures: int
    agreed: int
    deviations: int
    """Figures that agree, but for a listed cause by no more than one unit of their last digit."""
    failed: tuple[str, ...] = ()
    """Names of the checks that do not pass."""
    installed_files: str = ""
    """SHA-256 over the installed files of the package; empty where a kept dossier is to outlive their changes."""


@plain_dataclass(frozen=True, kw_only=True)
class Installation:
    """The software as it lies on this machine."""

    software: str
    platform: str
    versions: tuple[tuple[str, str], ...]
    files: int
    installed_files: str
    """SHA-256 over the files of the package."""
    recorded: bool
    """Whether the installer left a record of the files to compare with."""
    altered: tuple[str, ...]
    """Files that are missing or not as the installer recorded them."""


@plain_dataclass(frozen=True, kw_only=True)
class SelfCheck:
    """Everything that one self-check found."""

    installation: Installation
    outcomes: tuple[Outcome, ...]

    @property
    def summary(self) -> SelfCheckSummary:
        return summary_of(self.outcomes, self.installation.installed_files)

    @property
    def passes(self) -> bool:
        """Every check passes, and no file was altered since it was installed."""
        return bool(self.outcomes) and not self.summary.failed and not self.installation.altered


def summary_of(outcomes: Sequence[Outcome], installed_files: str = "") -> SelfCheckSummary:
    """The counts of a self-check."""
    figures = [figure for outcome in outcomes for figure in outcome.figures]
    return SelfCheckSummary(
        checks=len(outcomes),
        passed=sum(outcome.passes for outcome in outcomes),
        figures=len(figures),
        agreed=sum(figure.agrees for figure in figures),
        deviations=sum(figure.agrees and figure.deviates for figure in figures),
        failed=tuple(outcome.check.id for outcome in outcomes if not outcome.passes),
        installed_files=installed_files,
    )
