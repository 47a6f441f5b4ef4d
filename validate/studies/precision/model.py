"""The variance components of one level, whichever the design, in one form.

The formulas are those of `validate.stats.precision`; here they get their words, the sums
that a reviewer ticks off, and the terms on which the limits of each total rest.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from validate.stats.intervals import Limits, Term, sd_limits
from validate.studies.precision.groups import LevelData, cell_codes
from validate.studies.precision.settings import Design
from validate.studies.precision.words import counted
from validate.vocabulary.finding import Symbol

FEW_LEVELS = 5
"""Below this number of labels the spread that a factor adds is hardly known; no verdict rests on it."""


@dataclass(frozen=True)
class Estimate:
    """A standard deviation, its arithmetic and the variance terms that its limits rest on."""

    value: float
    terms: tuple[Term, ...]
    df: float
    expression: str
    symbols: tuple[Symbol, ...]
    groups: int | None = None
    floors: tuple[float, ...] = ()
    """For each term after the first the mean square from the inside over it: no component counts below 0."""
    parts: tuple[str, ...] = ()
    """What each of the terms is, for whoever redoes the limits."""
    why_no_met: str = ""
    """Why the upper limit is not good enough to show that a bound is met; empty where it is."""


@dataclass(frozen=True)
class Component:
    """One line of the table of components. `raw` is the variance as estimated, negative or not."""

    title: str
    raw: float
    sd: float
    count: int | None
    df: float | None
    low: float | None
    high: float | None
    method: str


@dataclass(frozen=True)
class Components:
    """What one level gives: the mean, s_r, s_between and the totals by finding name."""

    mean: float
    mean_symbols: tuple[Symbol, ...]
    se_mean: float
    df_mean: float
    n: int
    groups: int
    s_r: Estimate
    s_between: Estimate
    s_between_limits: Limits | None
    totals: Mapping[str, Estimate]
    rows: tuple[Component, ...]
    few: tuple[str, ...]
    negative: tuple[str, ...]
    balanced: bool


def assembled(
    data: LevelData,
    design: Design,
    unit: str,
    *,
    mean: float,
    s_r: Estimate,
    factor_rows: tuple[Component, ...],
    mean_error: tuple[float, float],
    **parts: object,
) -> Components:
    within = sd_limits(s_r.value, s_r.df, 0.95)
    return Components(
        mean=mean,
        mean_symbols=(
            Symbol(
                name="sum", printed="Σx", meaning="sum of the results", value=math.fsum(data.values.tolist()), unit=unit
            ),
            Symbol(name="n", printed="N", meaning="number of results", value=data.n, unit=""),
        ),
        se_mean=mean_error[0],
        df_mean=mean_error[1],
        n=data.n,
        groups=data.count(design.outer.column),
        s_r=s_r,
        rows=(*factor_rows, component_row("repeatability", s_r.value**2, None, s_r.df, within)),
        few=_few(data, design),
        negative=tuple(line.title for line in factor_rows if line.raw < 0),
        balanced=_balanced(data, design),
        **parts,  # type: ignore[arg-type]
    )


def variance_symbol(name: str, printed: str, meaning: str, value: float, unit: str) -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=value, unit=f"({unit})²")


def component_row(title: str, raw: float, count: int | None, df: float | None, limits: Limits) -> Component:
    return Component(title, raw, math.sqrt(max(0.0, raw)), count, df, limits.low, limits.high, limits.method)


def _balanced(data: LevelData, design: Design) -> bool:
    """Whether every innermost cell, and every outer group, holds the same number of results."""
    cells = np.bincount(cell_codes(data, tuple(factor.column for factor in design.factors)))
    groups = np.bincount(data.codes[design.outer.column])
    return len(set(cells.tolist())) == 1 and len(set(groups.tolist())) == 1


def _few(data: LevelData, design: Design) -> tuple[str, ...]:
    return tuple(
        counted(data.count(factor.column), factor.called)
        for factor in design.factors
        if data.count(factor.column) < FEW_LEVELS and not (design.kind == "nested" and factor is not design.outer)
    )
