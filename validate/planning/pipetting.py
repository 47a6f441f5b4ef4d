"""Spikes: from target content, portion and standard to a volume that a pipette can deliver.

V = w · m / c with w the content to add, m the portion, c the concentration of the solution:
5 µg/kg on 20 g are 100 ng, and of 1000 ng/mL that is 100 µL.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from validate.planning.words import of_unit
from validate.vocabulary.quantity import Quantity, conversion_factor

SLACK = 1e-9
SOLUTION = "solution"
FACTORS = tuple(step * 10**power for power in range(9) for step in (2, 5, 10))
"""Dilutions that glassware makes in one step or two: 1 in 2, 5, 10, 20 …"""


@dataclass(frozen=True)
class Pipette:
    """Volumes in µL that one pipette delivers."""

    low: float
    high: float

    @property
    def words(self) -> str:
        return f"{microlitres(self.low)} to {microlitres(self.high)}"

    def delivers(self, volume: float) -> bool:
        return self.low * (1 - SLACK) <= volume <= self.high * (1 + SLACK)


COMMON = (Pipette(20, 200), Pipette(100, 1000), Pipette(500, 5000))
"""Supposed when the protocol names none (common sizes; common practice, no source)."""


@dataclass(frozen=True)
class Solution:
    """A material that can be added: its content per mL, or per g when it is weighed in."""

    name: str
    value: Quantity
    content: float
    """Mass of analyte, in ng per mL, or in ng per g."""
    weighed: bool


@dataclass(frozen=True)
class Dose:
    """What one portion gets."""

    solution: Solution
    amount: float
    """Mass of analyte in ng."""
    size: float
    """Volume in µL, or mass in mg when the solution is weighed."""
    pipette: Pipette | None
    """None when it is weighed, or when no pipette delivers it."""

    @property
    def deliverable(self) -> bool:
        return self.solution.weighed or self.pipette is not None

    @property
    def words(self) -> str:
        if self.solution.weighed:
            return _scaled(self.size, "mg", "g")
        return microlitres(self.size)


def pipettes_of(settings: Iterable[Any]) -> tuple[Pipette, ...]:
    """The pipettes of the protocol's `plan`, else the common ones."""
    named = tuple(Pipette(each.from_.to("mL") * 1000, each.to.to("mL") * 1000) for each in settings)
    return named or COMMON


def solutions(materials: Mapping[str, Any], names: Iterable[str]) -> list[Solution]:
    """The named materials, else all of kind `solution`, as far as their value tells a content."""
    chosen = list(names) or [name for name, each in materials.items() if each.kind.casefold() == SOLUTION]
    found = []
    for name in chosen:
        value = materials[name].value
        for unit, weighed in (("ng/mL", False), ("ng/g", True)):
            factor = _factor(value.unit, unit) if value is not None else None
            if factor is not None and value.value > 0:
                found.append(Solution(name, value, value.value * factor, weighed))
    return found


def amount_to_add(content: float, unit: str, portion: Quantity) -> float | None:
    """Mass in ng that raises a portion by `content`; None when the units give no mass."""
    for of_portion, of_content in (("g", "ng/g"), ("mL", "ng/mL")):
        size, each = _factor(portion.unit, of_portion), _factor(unit, of_content)
        if size is not None and each is not None:
            return content * each * portion.value * size
    return None


def dose(amount: float, among: Iterable[Solution], pipettes: Iterable[Pipette]) -> Dose:
    """The smallest volume that a pipette delivers; where none can, the one nearest to a pipette.

    Raises ValueError when there is no solution to choose from.
    """
    made = [_dose(amount, solution, tuple(pipettes)) for solution in among]
    deliverable = [each for each in made if each.deliverable]
    if deliverable:
        return min(deliverable, key=lambda each: each.size)
    return max(made, key=lambda each: each.size)


def dilution(volume: float, pipettes: Iterable[Pipette]) -> int:
    """The smallest round dilution that makes `volume` deliverable; the smallest that passes the gap if none does."""
    ranges = tuple(pipettes)
    fitting = (factor for factor in FACTORS if any(p.delivers(volume * factor) for p in ranges))
    return next(fitting, next(f for f in FACTORS if volume * f >= min(p.low for p in ranges)))


def microlitres(volume: float) -> str:
    """`37.5 µL`; from 1000 µL on in mL."""
    return _scaled(volume, "µL", "mL")


def _dose(amount: float, solution: Solution, pipettes: tuple[Pipette, ...]) -> Dose:
    size = amount / solution.content * 1000
    able = [p for p in pipettes if not solution.weighed and p.delivers(size)]
    return Dose(solution, amount, size, min(able, key=lambda p: p.high, default=None))


def _scaled(value: float, unit: str, thousandfold: str) -> str:
    if value >= 1000:
        value, unit = value / 1000, thousandfold
    return of_unit(value, unit)


def _factor(unit: str, target: str) -> float | None:
    try:
        return conversion_factor(unit, target)
    except ValueError:
        return None
