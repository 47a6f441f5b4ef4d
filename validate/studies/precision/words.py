"""The words that follow from what a factor is called.

Conditions within a laboratory give intermediate precision, laboratories give
reproducibility, and portions of a material a spread of that material, which is no property
of the method (ISO 5725-1, ISO 5725-3 for the terms).
"""

from __future__ import annotations

from enum import IntEnum
from typing import Literal

FactorName = Literal[
    "day", "run", "analyst", "instrument", "calibration", "lot", "laboratory",
    "batch", "cask", "bottle", "sample", "portion",
]  # fmt: skip

CONDITIONS = ("day", "run", "analyst", "instrument", "calibration", "lot")


class Scope(IntEnum):
    """How wide the conditions are whose spread a factor adds, from narrow to wide."""

    WITHIN_LABORATORY = 1
    LABORATORY = 2
    MATERIAL = 3


TOTAL_FINDING = {
    Scope.WITHIN_LABORATORY: "s_intermediate",
    Scope.LABORATORY: "s_reproducibility",
    Scope.MATERIAL: "s_total",
}
"""The finding that sums all components up to a scope."""

RELATIVE = {
    "s_r": "rsd_r",
    "s_intermediate": "rsd_intermediate",
    "s_reproducibility": "rsd_reproducibility",
    "s_total": "rsd_total",
}
"""Standard deviation → its relative form."""

PRECISION_WORD = {
    Scope.WITHIN_LABORATORY: "intermediate precision",
    Scope.LABORATORY: "reproducibility",
    Scope.MATERIAL: "total spread, that of the material included",
}

_PLURAL = {"batch": "batches", "analyst": "analysts", "laboratory": "laboratories"}


def scope_of(called: str) -> Scope:
    """The scope of a factor from its name."""
    if called in CONDITIONS:
        return Scope.WITHIN_LABORATORY
    return Scope.LABORATORY if called == "laboratory" else Scope.MATERIAL


def plural(called: str) -> str:
    """`day` → `days`, `laboratory` → `laboratories`."""
    return _PLURAL.get(called, called + "s")


def counted(number: int, called: str) -> str:
    """`1 day`, `6 days`."""
    return f"{number} {called if number == 1 else plural(called)}"


def between(called: str) -> str:
    """`between-day`, `between-laboratory`."""
    return f"between-{called}"


def shown(level: str | None) -> str:
    """A level in a table cell."""
    return "all" if level is None else level
