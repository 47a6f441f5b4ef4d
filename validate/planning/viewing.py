"""From a plan to the texts of the bench sheet; the only rounding of it is that of the dossier's numbers."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from validate.dossier.numbers import EN_DASH, percent_of_one, with_unit
from validate.planning.chances import LARGEST_SIZE, Decision
from validate.planning.making import Plan, PlannedStudy
from validate.planning.order import Placed
from validate.planning.portions import portion_steps, total_needed
from validate.planning.spiking import SpikeLine
from validate.planning.view import (
    BenchPage,
    BenchRow,
    DecisionRow,
    GuideRow,
    Pair,
    SheetView,
    SpikeRow,
    StudyView,
)
from validate.planning.words import of_unit, short
from validate.protocol.model import Material, Protocol

RULES = {"estimate": "by the estimate", "interval": "by the interval"}
INVENTED = "Data invented for demonstration"
SHORT_HASH = 16
ROOMY_ROWS, MOST_ROWS = 16, 20
"""Rows of a page in full height, and in the height that still keeps a day on one page."""


def sheet_view(plan: Plan) -> SheetView:
    """Everything that the bench sheet prints."""
    protocol = plan.loaded.protocol
    portion = protocol.method.portion
    identification = f"{protocol.id} · edition {protocol.edition} · {protocol.laboratory}"
    invented = protocol.origin is not None and protocol.origin.data == "invented"
    return SheetView(
        title=protocol.title,
        identification=identification,
        metadata=(Pair("description", "Bench sheet"), Pair("dcterms.created", protocol.issued.isoformat())),
        origin_mark=INVENTED if invented else "",
        facts=tuple(_facts(plan, protocol)),
        portion=tuple(portion_steps(portion)) if portion is not None else (),
        materials=tuple(Pair(name, _material(each)) for name, each in protocol.materials.items()),
        ready=tuple(_ready(protocol)),
        unit=protocol.method.unit,
        notices=tuple(problem.message for problem in plan.problems),
        studies=tuple(_study(plan, study) for study in plan.studies),
    )


def _facts(plan: Plan, protocol: Protocol) -> Iterator[Pair]:
    method = protocol.method
    yield Pair("Protocol", f"{protocol.id}, edition {protocol.edition}, issued {protocol.issued.isoformat()}")
    yield Pair("Design hash", plan.design_hash[:SHORT_HASH])
    yield Pair("Laboratory", protocol.laboratory)
    if protocol.people.planned:
        yield Pair("Planned by", protocol.people.planned)
    yield Pair("Method", f"{method.measurand} in {method.matrix}" + (f", {method.basis}" if method.basis else ""))
    if method.principle:
        yield Pair("Principle", method.principle)
    if any(study.spikes for study in plan.studies):
        ranges = "; ".join(each.words for each in plan.pipettes)
        yield Pair("Pipettes", ranges + (" (supposed: the protocol names none)" if plan.pipettes_assumed else ""))
    yield Pair("Order", f"random within day and analyst; seed {plan.seed.value}, {plan.seed.origin}")


def _material(material: Material) -> str:
    parts = [material.kind]
    if material.value is not None:
        parts.append(material.value.text + (f" ± {material.U.text}" if material.U is not None else ""))
    if material.expires is not None:
        parts.append(f"use until {material.expires.isoformat()}")
    parts += [text for text in (material.storage, material.preparation) if text]
    return "; ".join(parts)


def _ready(protocol: Protocol) -> Iterator[Pair]:
    """Every rule on readiness that asks for something to be written down on the day."""
    if protocol.readiness is None:
        return
    rules = protocol.readiness.model_dump(mode="json", by_alias=True, exclude_none=True)
    if "calibration" in rules:
        yield Pair("calibrated at", f"not more than {rules['calibration']['not_older_than']} before the last reading")
    unit = protocol.method.unit
    for name, bound in {**rules, **rules.get("limits", {})}.items():
        if words := _bound_words(bound, unit):
            yield Pair(name.replace("_", " "), words)
    for name, life in rules.get("shelf_life", {}).items():
        lasts = life["lasts"] if isinstance(life, dict) else life
        yield Pair(f"{name}, mixed or opened at", f"good for {lasts}")


def _bound_words(bound: object, unit: str) -> str:
    """`9 to 11 µg/kg`, `at most 0.2 µg/kg`; empty for a rule that is no bound."""
    if not isinstance(bound, dict):
        return ""
    unit = bound.get("unit", unit)
    if "between" in bound:
        return with_unit(" to ".join(map(short, bound["between"])), unit)
    for key, words in (("at_most", "at most"), ("at_least", "at least")):
        if key in bound:
            return with_unit(f"{words} {short(bound[key])}", unit)
    return ""


def _study(plan: Plan, study: PlannedStudy) -> StudyView:
    own, portion = study.plan, plan.loaded.protocol.method.portion
    placed = study.placed
    codes = f"{placed[0].code} to {placed[-1].code}" if placed else ""
    portions = sum(each.position.portion for each in placed)
    needs = f"{portions} portions, {total_needed(portion, portions)} of sample" if portions and portion else ""
    return StudyView(
        name=study.name,
        title=study.title,
        question=study.question,
        has_plan=own is not None,
        shares=study.shares,
        codes=codes,
        needs=needs or (f"{len(placed)} positions" if placed else ""),
        steps=_without_marks(own.steps) if own else (),
        records=_without_marks(own.records) if own else (),
        cautions=_without_marks(own.cautions) if own else (),
        told=_without_marks(own.told) if own else (),
        spikes=tuple(_spike(line, plan.loaded.protocol.method.unit) for line in study.spikes),
        decisions=tuple(_decision(each) for each in study.decisions),
        together=_together(study.decisions),
        guides=tuple(
            GuideRow(line.source, line.asked, line.present.removesuffix(" (as planned)"), line.short)
            for line in study.minimum_designs
        ),
        pages=tuple(_pages(study, portion.weigh.unit if portion else "")),
        sheet=study.sheet.name if study.sheet else "",
    )


def _without_marks(texts: tuple[str, ...]) -> tuple[str, ...]:
    """Code marks mean nothing on paper."""
    return tuple(text.replace("`", "") for text in texts)


def _spike(line: SpikeLine, unit: str) -> SpikeRow:
    level = with_unit(line.level or short(line.spike.content), unit)
    made, portions = line.dose, str(line.portions)
    if made is None:
        return SpikeRow(level, EN_DASH, EN_DASH, EN_DASH, EN_DASH, portions)
    return SpikeRow(
        level=level,
        add=made.words,
        of=f"{made.solution.name}, {made.solution.value.text}",
        amount=_mass(made.amount),
        pipette="balance" if made.pipette is None else made.pipette.words,
        portions=portions,
    )


def _mass(nanograms: float) -> str:
    for unit, size in (("mg", 1e6), ("µg", 1e3)):
        if nanograms >= size:
            return of_unit(nanograms / size, unit)
    return of_unit(nanograms, "ng")


def _decision(made: Decision) -> DecisionRow:
    criterion = made.criterion
    return DecisionRow(
        title=criterion.title or criterion.finding,
        levels=("levels " if len(made.levels) > 1 else "level ") + ", ".join(made.levels) if made.levels else "",
        bound=criterion.wording + (" (claimed)" if criterion.kind == "claim" else ""),
        judged=RULES[criterion.judge_by.value],
        chances=tuple(Pair(each.truth, percent_of_one(each.chance)) for each in made.chances),
        verdictless=made.never,
        size=_size(made),
        assumed=made.assumed,
    )


def _size(made: Decision) -> str:
    if not made.aim:
        return "How this figure would scatter is not known beforehand."
    wanted = f"The {percent_of_one(made.power)} wanted {made.aim}"
    if made.sufficient is None:
        return f"{wanted} cannot be had with up to {LARGEST_SIZE} {made.sized}."
    verdict = "enough" if made.sufficient <= made.planned else "too few"
    return f"{wanted} takes {made.sufficient} {made.sized}; the {made.planned} planned are {verdict}."


def _together(decisions: tuple[Decision, ...]) -> str:
    comparisons = sum(max(1, len(each.levels)) for each in decisions)
    if not comparisons:
        return ""
    power = decisions[0].power
    together = percent_of_one(1 - (1 - power) * comparisons)
    if comparisons == 1:
        return f"The criterion is to be met with a chance of {together} by a method that is good enough."
    return (
        f"The {comparisons} criteria together are to be met with a chance of {together} by a method that is good "
        f"enough, so each is planned with {percent_of_one(power)}."
    )


def _pages(study: PlannedStudy, weighed: str) -> Iterator[BenchPage]:
    if study.plan is None:
        return
    if not any(each.position.portion for each in study.placed):
        weighed = ""
    doses = {(line.level, line.spike): line.dose for line in study.spikes}
    days = max((each.position.day for each in study.placed), default=0)
    word = study.plan.day_word

    def block(each: Placed) -> tuple[int, int]:
        return each.position.day, each.position.analyst or 0

    for (day, analyst), members in groupby(study.placed, key=block):
        heading = f"{word} {day} of {days}" if days > 1 else "one session"
        heading += f", analyst {analyst}" if analyst else ""
        rows = []
        for each in members:
            spike = each.position.spike
            made = doses.get((each.position.level or "", spike)) if spike is not None else None
            rows.append(BenchRow(each.code, each.position.label, made.words if made else ""))
        dense = ROOMY_ROWS < len(rows) <= MOST_ROWS
        yield BenchPage(f"{study.name}-{day}-{analyst}", heading, tuple(rows), weighed, dense)
