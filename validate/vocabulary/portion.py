"""The portion chain as evaluated: steps, grams of sample represented, factor to the mass fraction, uncertainty."""

from __future__ import annotations

from pydantic.dataclasses import dataclass

from validate.vocabulary import FROZEN
from validate.vocabulary.finding import Working


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class PortionStep:
    """One mass or volume of the chain."""

    key: str
    """Keys below `method.portion`, joined by dots; dilutions are counted from 1."""
    title: str
    quantity: str
    """As the protocol writes it."""
    tolerance: str
    """As written, or empty."""
    content: float | None
    """Sample in 1 mL after this step; None where it does not change or cannot be told."""
    u_percent: float | None
    """Part of this step in the relative standard uncertainty of the factor; None without a tolerance."""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class PortionFigure:
    """A figure of the chain with its arithmetic."""

    name: str
    """`sample_represented`, `factor` or `u_factor`."""
    title: str
    symbol: str
    value: float
    unit: str
    formula: str
    source: str
    working: Working


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class PortionRows:
    """Samples whose own masses and volumes stand in a table, against the protocol's chain."""

    study: str
    file: str
    samples: int
    low: float
    high: float
    """Smallest and largest portion represented among them, as a share of the protocol's."""
    allowed: float | None
    """Largest deviation that the tolerances allow, as a share; None where none is stated."""
    differing: str
    """Rows beyond it, as ranges."""
    sentence: str


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class PortionResult:
    """What the chain of `method.portion` comes to."""

    unit: str
    """Unit of the sample: g or mL."""
    steps: tuple[PortionStep, ...]
    figures: tuple[PortionFigure, ...]
    """Empty where the steps do not say how much sample stands behind what is read."""
    sentences: tuple[str, ...]
    rows: tuple[PortionRows, ...] = ()

    def figure(self, name: str) -> PortionFigure | None:
        """The figure of that name, or None."""
        return next((figure for figure in self.figures if figure.name == name), None)
