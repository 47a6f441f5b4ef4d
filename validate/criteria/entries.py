"""What a published set of limits is made of, as its data file in `sets/` declares it."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from pydantic.dataclasses import dataclass

from validate.vocabulary import FROZEN
from validate.vocabulary.verdict import JudgeBy


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Row:
    """One row of a table by concentration; its edges are in the entry's `rows_unit`.

    `from_level` and `to_level` belong to the row, `above_level` and `below_level` do not.
    A table of points (expected values at 1 mg/kg, 10 mg/kg …) gives `at_level` alone.
    """

    printed: str
    """The concentration as printed in the source."""
    from_level: float | None = None
    above_level: float | None = None
    to_level: float | None = None
    below_level: float | None = None
    at_level: float | None = None
    at_most: float | None = None
    at_least: float | None = None
    between: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class ByFunction:
    """A bound that is a multiple of the predicted relative standard deviation at the level."""

    model: Literal["horwitz", "horwitz-aoac", "thompson"]
    factor: str
    """A product as the source writes it, for example `2` or `0.66 × 2`."""

    @property
    def multiple(self) -> float:
        product = 1.0
        for part in self.factor.split("×"):
            product *= float(part)
        return product


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class ExceptionalBound:
    """A wider bound for the case that other findings at the same level are met."""

    between: tuple[float, float]
    when_met: tuple[str, ...]
    words: str


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Entry:
    """One bound of a set on one finding.

    The bound is `at_most`, `at_least` or `between` in `unit`; with `of_limit` these are
    multiples of the method's limit; with `rows` the row of the level gives them, times
    `factor`; with `function` the predicted RSD at the level gives an upper bound.
    An entry with `measurands` or `matrices` holds for these only.
    """

    finding: str
    clause: str
    unit: str = "%"
    at_most: float | None = None
    at_least: float | None = None
    between: tuple[float, float] | None = None
    of_limit: bool = False
    function: ByFunction | None = None
    rows: tuple[Row, ...] = ()
    rows_unit: str = ""
    boundary: Literal["", "stricter row"] = ""
    factor: str = "1"
    exception: ExceptionalBound | None = None
    measurands: tuple[str, ...] = ()
    matrices: tuple[str, ...] = ()
    not_method_defined: bool = False
    """True where the bound means nothing for a measurand defined by its method (HorRat)."""
    minimum_n: int | None = None
    minimum_groups: int | None = None
    words: str = ""
    note: str = ""
    obtained: str = ""
    """Where it differs from that of the set, for example `from memory`."""

    @property
    def multiple(self) -> float:
        """`factor` as a number; `2/3` is allowed."""
        return float(Fraction(self.factor))

    @property
    def rests_on_horwitz(self) -> bool:
        return self.function is not None or self.not_method_defined

    @property
    def depends_on_level(self) -> bool:
        return bool(self.rows) or self.function is not None


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class CriteriaSet:
    """A published set of limits: where it comes from, how it was obtained, what it applies to."""

    id: str
    title: str
    source: str
    edition: str
    obtained: str
    judge_by: JudgeBy
    in_force_from: str = ""
    in_force_until: str = ""
    replaced_by: str = ""
    intended_use: tuple[str, ...] = ()
    """Intended uses that the set is made for; empty for any."""
    measurands: tuple[str, ...] = ()
    """Words of which one occurs in the measurand; empty for any."""
    entry: tuple[Entry, ...]
    note: str = ""


def bound_of(item: Row | Entry | ExceptionalBound) -> tuple[float | None, float | None]:
    """Lower and upper bound as written, None for an open end."""
    if item.between is not None:
        return item.between
    return getattr(item, "at_least", None), getattr(item, "at_most", None)


def speaks_of(words: tuple[str, ...], text: str) -> bool:
    """Whether one of `words` stands in `text` as a whole word or phrase (all when there are none)."""
    padded = f" {_plain(text)} "
    return not words or any(f" {_plain(word)} " in padded for word in words)


def _plain(text: str) -> str:
    kept = "".join(c if c.isalnum() or c == "-" else " " for c in text.casefold())
    return " ".join(kept.split())
