"""h and k: how consistent the laboratories are at every level, as a table and as bars."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from validate.stats.interlaboratory import Cell, Mandel, cells_of, mandel_h, mandel_k
from validate.studies.collaborative_trial.context import Context
from validate.studies.collaborative_trial.level_data import natural
from validate.studies.collaborative_trial.settings import SPLIT
from validate.vocabulary.evaluation import ResultTable, TableColumn
from validate.vocabulary.plot import Axis, Bars, Plot, Rule

MOST_BARS = 300
SPREAD = 0.7
"""Share of a laboratory's place over which the bars of its levels are spread."""


@dataclass(frozen=True)
class Consistency:
    """One level: its cells, and h and k where they are defined; k of cells with a second result only."""

    level: str
    cells: tuple[Cell, ...]
    h: dict[str, float]
    k: dict[str, float]
    h_values: Mandel | None
    k_values: Mandel | None
    split: bool = False


def consistency(context: Context) -> Consistency:
    """h on cell means, k on standard deviations within laboratories."""
    data = context.data
    if context.settings.design.kind == SPLIT:
        labels, first, second, _ = data.pairs()
        cells = cells_of(np.concatenate((first, second)), [*labels, *labels])
        # On split levels the two samples differ by themselves: no scatter within a cell can be read off.
        repeated: tuple[Cell, ...] = ()
    else:
        found = cells_of(data.values, data.laboratories.tolist(), run=None if data.run is None else data.run.tolist())
        cells = tuple(sorted(found, key=lambda cell: natural(str(cell.laboratory))))
        repeated = tuple(cell for cell in cells if cell.sd is not None)
    h = _or_none(mandel_h, [cell.mean for cell in cells])
    usual = int(np.bincount([cell.df for cell in repeated]).argmax()) + 1 if repeated else 0
    k = _or_none(mandel_k, [cell.sd for cell in repeated], usual) if usual >= 2 else None
    return Consistency(
        level=data.level,
        cells=cells,
        h=_named(cells, h),
        k=_named(repeated, k),
        h_values=h,
        k_values=k,
        split=context.settings.design.kind == SPLIT,
    )


def _or_none(statistic, *arguments: object) -> Mandel | None:  # type: ignore[no-untyped-def]
    try:
        return statistic(*arguments)
    except ValueError:
        return None


def _named(cells: tuple[Cell, ...], found: Mandel | None) -> dict[str, float]:
    if found is None:
        return {}
    return {str(cell.laboratory): value for cell, value in zip(cells, found.values, strict=True)}


def _mark(value: float | None, found: Mandel | None) -> str:
    if value is None or found is None:
        return ""
    return "**" if abs(value) > found.critical_1 else "*" if abs(value) > found.critical_5 else ""


def table(found: tuple[Consistency, ...], unit: str) -> ResultTable:
    """Every cell with its h and k; an asterisk beyond the 5 % value, two beyond the 1 % value."""
    scatter = any(cell.sd is not None for at in found for cell in at.cells) and not any(at.split for at in found)
    rows = []
    for at in found:
        for cell in at.cells:
            lab = str(cell.laboratory)
            h, k = at.h.get(lab), at.k.get(lab)
            spread = (cell.sd,) if scatter else ()
            within = (k, _mark(k, at.k_values)) if scatter else ()
            rows.append((at.level, lab, float(cell.n), cell.mean, *spread, h, _mark(h, at.h_values), *within))
    return ResultTable(
        name="consistency",
        title="Cells, h and k" if scatter else "Cells and h",
        columns=(
            TableColumn(title="level", kind="text"),
            TableColumn(title="laboratory", kind="text"),
            TableColumn(title="n"),
            TableColumn(title="mean", unit=unit),
            *([TableColumn(title="s", unit=unit)] if scatter else []),
            TableColumn(title="h"),
            TableColumn(title="beyond", kind="text"),
            *([TableColumn(title="k"), TableColumn(title="beyond", kind="text")] if scatter else []),
        ),
        rows=tuple(rows),
        note=" ".join(
            [
                "* beyond the 5 % value, ** beyond the 1 % value for one laboratory: of 100 sound cells five exceed "
                "the first. Look for a laboratory whose bars stand on one side at every level.",
                *(_criticals(at) for at in found),
            ]
        ),
    )


def _criticals(at: Consistency) -> str:
    parts = [
        f"{name} {values.critical_5:.3g} and {values.critical_1:.3g}"
        for name, values in (("h", at.h_values), ("k", at.k_values))
        if values is not None
    ]
    return f"Level {at.level}: {', '.join(parts)}." if parts else f"Level {at.level}: h and k are not defined."


def plots(found: tuple[Consistency, ...]) -> tuple[Plot, ...]:
    """Bars of h and of k, grouped by laboratory, the levels side by side."""
    return (*_plot(found, "h", "between laboratories"), *_plot(found, "k", "within laboratories"))


def _plot(found: tuple[Consistency, ...], name: str, what: str) -> tuple[Plot, ...]:
    by_level = {at.level: at.h if name == "h" else at.k for at in found}
    values = [at.h_values if name == "h" else at.k_values for at in found]
    known = [v for v in values if v is not None]
    labs = sorted({lab for named in by_level.values() for lab in named}, key=natural)
    if not known or sum(len(named) for named in by_level.values()) > MOST_BARS:
        return ()
    offsets = dict(zip(by_level, ((i + 1) / (len(by_level) + 1) - 0.5 for i in range(len(by_level))), strict=True))
    bars = [
        (labs.index(lab) + 1 + SPREAD * offsets[level], value)
        for level, named in by_level.items()
        for lab, value in named.items()
    ]
    five, one = max(v.critical_5 for v in known), max(v.critical_1 for v in known)
    signs = (1, -1) if name == "h" else (1,)
    rules = [
        Rule(at=sign * at, label=word if sign > 0 else "", style=style)
        for sign in signs
        for at, word, style in ((five, "5 %", "dashed"), (one, "1 %", "solid"))
    ]
    far = [lab for lab in labs if any(abs(named.get(lab, 0.0)) > five for named in by_level.values())]
    order = "One bar for each laboratory"
    if len(by_level) > 1:
        order = f"Bars of one laboratory are its levels in the order {', '.join(by_level)}"
    plot = Plot(
        name=f"mandel_{name}",
        title=f"Consistency {what}: {name}",
        sentence=f"{order}; the lines are the indicator values at 5 and 1 %.",
        description=f"Bars of {name} for {len(labs)} laboratories at {len(by_level)} levels; beyond the 5 % value: "
        f"{', '.join(far) or 'none'}.",
        x=Axis(label="laboratory", categories=tuple(labs)),
        y=Axis(label=name, low=None if name == "h" else 0.0),
        layers=(Bars(x=tuple(x for x, _ in sorted(bars)), y=tuple(y for _, y in sorted(bars))), *rules),
    )
    return (plot,)
