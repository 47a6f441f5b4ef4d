"""Tables: units, both rules with and without a flagged unit, Cochran's test, occasions."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from validate.stats.homogeneity import Homogeneity, assess_units
from validate.studies.homogeneity.context import Context
from validate.studies.homogeneity.over_time import Change
from validate.vocabulary.evaluation import ResultTable, TableColumn
from validate.vocabulary.verdict import Verdict

WORDS = {Verdict.MET: "sufficient", Verdict.NOT_SHOWN: "not shown", Verdict.NOT_MET: "not sufficient"}


def outcome(found: Homogeneity) -> Verdict:
    """What both rules say together, for the figures that no criterion judges."""
    if found.iso_met:
        return Verdict.MET
    return Verdict.NOT_SHOWN if found.iupac_met else Verdict.NOT_MET


def tables(context: Context, found: Homogeneity, change: Change | str) -> tuple[ResultTable, ...]:
    made = (_rules(context, found), _cochran(context, found), _units(context, found), _occasions(context, change))
    return tuple(table for table in made if table is not None)


def _text(title: str) -> TableColumn:
    return TableColumn(title=title, kind="text")


def flagged_unit(found: Homogeneity) -> str | None:
    """The unit whose replicates agree less than the others allow, at 5 %."""
    if found.cochran_c is None or found.cochran_c <= found.cochran_critical_5:
        return None
    return str(found.components.labels[found.cochran_index])


def _rules(context: Context, found: Homogeneity) -> ResultTable | None:
    if context.sigma.value is None:
        return None
    rows = [_rule_row("all units", found)]
    unit = flagged_unit(found)
    if unit is not None:
        rest = context.samples.first.without(unit)
        try:
            rows.append(_rule_row(f"without unit {unit}", assess_units(rest.values, rest.units, context.sigma.value)))
        except ValueError as reason:
            rows.append((f"without unit {unit}", None, None, None, None, None, str(reason)))
    return ResultTable(
        name="rules",
        title="Both rules",
        columns=(
            _text("results"),
            TableColumn(title="units"),
            TableColumn(title="s_an", unit=context.unit),
            TableColumn(title="s_sam", unit=context.unit),
            TableColumn(title="limit, ISO 13528", unit=context.unit),
            TableColumn(title="limit, IUPAC 2006", unit=context.unit),
            _text("units are"),
        ),
        rows=tuple(rows),
        note=f"σ_pt = {context.sigma.value:.4g} {context.unit}, {context.sigma.words}. F₁ = {found.f1:.4g}, "
        f"F₂ = {found.f2:.4g}. Between the limits nothing is shown: s_an is too large or the units are too few.",
    )


def _rule_row(words: str, found: Homogeneity) -> tuple[str | float | None, ...]:
    limits = (found.iso_critical, found.iupac_critical)
    return (words, float(found.n_units), found.s_an, found.s_sam, *limits, WORDS[outcome(found)])


def _cochran(context: Context, found: Homogeneity) -> ResultTable:
    if found.cochran_c is None:
        row: tuple[str | float | None, ...] = (None, None, None, f"not tested: {found.cochran_reason}")
    else:
        beyond = found.cochran_c > found.cochran_critical, found.cochran_c > found.cochran_critical_5
        word = "outlier (1 %)" if beyond[0] else "straggler (5 %)" if beyond[1] else "nothing stands out"
        unit = found.components.labels[found.cochran_index]
        row = (found.cochran_c, found.cochran_critical_5, found.cochran_critical, f"{word}; largest in unit {unit}")
    return ResultTable(
        name="cochran",
        title="Cochran's test of the replicates",
        columns=(*(TableColumn(title=t) for t in ("C", "critical, 5 %", "critical, 1 %")), _text("outcome")),
        rows=(row,),
        note="A flag asks for a reason; nothing was removed.",
    )


def _units(context: Context, found: Homogeneity) -> ResultTable:
    occasion = context.samples.first
    order = occasion.unit_order
    rows = []
    for i, label in enumerate(occasion.labels):
        x = occasion.values[occasion.units == label]
        place = None if order is None else float(order[i])
        rows.append((label, place, float(x.size), float(x.mean()), float(np.ptp(x)) if x.size > 1 else None))
    return ResultTable(
        name="units",
        title="Units",
        columns=(
            _text("unit"),
            TableColumn(title="filling order"),
            TableColumn(title="results"),
            TableColumn(title="mean", unit=context.unit),
            TableColumn(title="largest difference", unit=context.unit),
        ),
        rows=tuple(rows),
    )


def _occasions(context: Context, change: Change | str) -> ResultTable | None:
    occasions = context.samples.occasions
    if len(occasions) < 2:
        return None
    rows = tuple(
        (occasion.days, float(len(occasion.labels)), float(occasion.values.size), float(occasion.unit_means.mean()))
        for occasion in occasions
    )
    return ResultTable(
        name="occasions",
        title="Occasions",
        columns=(
            TableColumn(title="days"),
            TableColumn(title="units"),
            TableColumn(title="results"),
            TableColumn(title="mean", unit=context.unit),
        ),
        rows=rows,
        note=" ".join(_rule_words(context, change)),
    )


def _rule_words(context: Context, change: Change | str) -> Iterator[str]:
    if isinstance(change, str):
        return
    limit = 0.3 * context.sigma.value
    holds = abs(change.value) <= limit * (1 + 1e-9)
    relation = "is not above" if holds else "is above"
    yield f"Point rule: |Δ| {abs(change.value):.4g} {relation} 0.3·σ_pt = {limit:.4g} (ISO 13528)."
    if change.widened_limit is not None:
        yield (
            f"Widened by twice the standard error of Δ the limit is {change.widened_limit:.4g}; "
            f"|Δ| is {'not ' if change.widened_met else ''}above it. That form gets easier with a worse method and "
            "decides nothing here."
        )
