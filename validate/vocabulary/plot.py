"""Plot data: what a picture shows, without a word on how it is drawn.

A study describes its pictures with the few layers below; the dossier draws them. A new
kind of study therefore needs no new drawing code.
"""

from __future__ import annotations

from typing import Literal

from pydantic.dataclasses import dataclass

from validate.vocabulary import FROZEN
from validate.vocabulary.inline import ShownInline


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Axis:
    """`label` carries the unit. With `categories` positions are 1, 2, … in their order."""

    label: str
    scale: Literal["linear", "log"] = "linear"
    categories: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Points:
    """Single results. `rows` are the file rows of the points, in order, for the reader who points at one."""

    layer: Literal["points"] = "points"
    x: tuple[float, ...]
    y: tuple[float, ...]
    label: str = ""
    mark: Literal["dot", "ring", "cross", "square", "triangle"] = "dot"
    rows: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Line:
    """A curve or a connection of points."""

    layer: Literal["line"] = "line"
    x: tuple[float, ...]
    y: tuple[float, ...]
    label: str = ""
    style: Literal["solid", "dashed", "dotted"] = "solid"
    accent: bool = False


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Whiskers:
    """Estimates with limits (None: open end)."""

    layer: Literal["whiskers"] = "whiskers"
    x: tuple[float, ...]
    y: tuple[float, ...]
    low: tuple[float | None, ...]
    high: tuple[float | None, ...]
    label: str = ""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Band:
    """An area between two curves over x."""

    layer: Literal["band"] = "band"
    x: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    label: str = ""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Rule:
    """A straight line across the picture: a limit, a target, a centre."""

    layer: Literal["rule"] = "rule"
    at: float
    axis: Literal["x", "y"] = "y"
    label: str = ""
    style: Literal["solid", "dashed", "dotted"] = "dashed"


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Bars:
    """Bars from zero."""

    layer: Literal["bars"] = "bars"
    x: tuple[float, ...]
    y: tuple[float, ...]
    label: str = ""


Layer = Points | Line | Whiskers | Band | Rule | Bars


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Plot(ShownInline):
    """One picture. `sentence` says what to see; `description` is read aloud instead of the picture."""

    name: str
    title: str
    sentence: str
    description: str
    x: Axis
    y: Axis
    layers: tuple[Layer, ...]
    criterion_of: str | None = None
    """Name of the finding whose bounds the judge may add as rules."""
