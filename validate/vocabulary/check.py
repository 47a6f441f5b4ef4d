"""Check values: what a source says, and what this installation gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

Kind = Literal["certified", "published", "independent", "by hand", "constructed", "from memory"]


@dataclass(frozen=True, kw_only=True)
class Case:
    """One call and the figures that its result must have, as printed."""

    name: str
    call: str
    arguments: Mapping[str, Any]
    expected: Mapping[str, str]
    unit: str | None = None
    """Unit of comparison where the source is no better than that; else the last printed digit."""
    attainable_digits: float | None = None
    """Correct digits that rounding the data to doubles leaves; at most one fewer may agree."""


@dataclass(frozen=True, kw_only=True)
class Deviation:
    """A figure known to be more than half a unit of its last digit off, and why."""

    case: str
    figure: str
    cause: str


@dataclass(frozen=True, kw_only=True)
class Check:
    """One source: where its figures stand, how they were obtained, what they are."""

    id: str
    title: str
    citation: str
    obtained: str
    kind: Kind
    licence: str
    cases: tuple[Case, ...]
    deviations: tuple[Deviation, ...] = ()
    data: str | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One printed figure beside the computed one."""

    case: str
    name: str
    printed: str
    obtained: str
    """The computed figure with some digits more than were printed; in words when there is none."""
    units_off: float
    """Difference in units of the last printed digit (or of the case's `unit`)."""
    digits_agreed: float
    """Minus the decimal logarithm of the relative difference (absolute where 0 is printed); at most 15."""
    cause: str | None = None
    """Why it is more than half a unit off, when the check lists it as a deviation."""
    attainable_digits: float | None = None
    computed: bool = True

    @property
    def passes(self) -> bool:
        """Within one unit of the last printed digit, or one digit of what doubles allow."""
        if self.attainable_digits is not None:
            return self.computed and self.digits_agreed >= self.attainable_digits - 1
        return self.computed and self.units_off <= 1

    @property
    def deviates(self) -> bool:
        """More than half a unit off: rounding alone does not explain it."""
        return self.attainable_digits is None and self.units_off > 0.5

    @property
    def agrees(self) -> bool:
        """It passes, and a deviation has its cause listed."""
        return self.passes and (self.cause is not None or not self.deviates)


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What running one check gave."""

    check: Check
    figures: tuple[Figure, ...] = field(default=())

    @property
    def passes(self) -> bool:
        """Every figure agrees, and every deviation is listed with its cause."""
        return bool(self.figures) and all(figure.agrees for figure in self.figures)
