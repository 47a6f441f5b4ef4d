"""The design as planned and as carried out, what varied, and the limits of use that follow."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from validate.studies.contract import StudyInput
from validate.studies.precision.context import LevelContext
from validate.studies.precision.groups import cell_codes
from validate.studies.precision.settings import PrecisionSettings
from validate.studies.precision.words import PRECISION_WORD, Scope, counted, plural, scope_of
from validate.vocabulary.evaluation import DesignFact, StudyResult, Varied

MOST_LABELS = 8


def design_facts(contexts: tuple[LevelContext, ...]) -> tuple[DesignFact, ...]:
    """One line each for the arrangement, the levels, the groups and the replicates."""
    settings = contexts[0].settings
    design, outer = settings.design, settings.design.outer
    facts = [DesignFact(name="arrangement", planned=design.kind, carried_out=_arrangement(settings))]
    if design.levels:
        measured = [context.data.level for context in contexts if context.data.n]
        facts.append(
            DesignFact(
                name="levels",
                planned=", ".join(design.levels),
                carried_out=", ".join(measured) or "none",
                short=len(measured) < len(design.levels),
            )
        )
    groups = [context.data.count(outer.column) for context in contexts]
    facts.append(_fact(f"{plural(outer.called)}{_at(settings)}", design.groups, groups))
    for factor in design.inner:
        counts = [context.data.count(factor.column) for context in contexts]
        label = f"labels of {factor.called}{_at(settings)}"
        facts.append(DesignFact(name=label, planned="not stated", carried_out=_range(counts)))
    sizes = [size for context in contexts for size in _cell_sizes(context)]
    facts.append(_fact("results in each innermost group", design.replicates, sizes))
    return tuple(facts)


def _fact(name: str, planned: int | None, found: Iterable[int]) -> DesignFact:
    counts = list(found)
    short = planned is not None and (min(counts, default=0) < planned)
    words = "not stated" if planned is None else str(planned)
    return DesignFact(name=name, planned=words, carried_out=_range(counts), short=short)


def _at(settings: PrecisionSettings) -> str:
    return " at each level" if settings.design.levels else ""


def _range(counts: list[int]) -> str:
    if not counts:
        return "none"
    low, high = min(counts), max(counts)
    return str(low) if low == high else f"{low} to {high}"


def _cell_sizes(context: LevelContext) -> list[int]:
    columns = tuple(factor.column for factor in context.settings.design.factors)
    return np.unique(np.bincount(cell_codes(context.data, columns))).tolist() if context.data.n else []


def _arrangement(settings: PrecisionSettings) -> str:
    outer, inner = settings.design.outer.called, [factor.called for factor in settings.design.inner]
    if settings.design.kind == "nested":
        return f"{plural(inner[0])} within {plural(outer)}"
    return " × ".join(plural(name) for name in (outer, *inner))


def varied(contexts: tuple[LevelContext, ...]) -> tuple[Varied, ...]:
    """What the table records as varied or constant, and the conditions of which it says nothing."""
    settings = contexts[0].settings
    told = []
    for factor in settings.conditions:
        found = [context.data.labels[factor.column] for context in contexts if factor.column in context.data.labels]
        labels = tuple(dict.fromkeys(label for several in found for label in several))
        if not labels:
            told.append(Varied(factor=plural(factor.called), state="not recorded"))
            continue
        state = "varied" if len(labels) > 1 else "constant"
        told.append(Varied(factor=plural(factor.called), state=state, count=len(labels), detail=_listed(labels)))
    told += [Varied(factor=plural(name), state="not recorded") for name in settings.not_recorded]
    return tuple(told)


def _listed(labels: tuple[str, ...]) -> str:
    text = ", ".join(labels[:MOST_LABELS])
    return text if len(labels) <= MOST_LABELS else f"{text}, …"


def facts(settings: PrecisionSettings) -> dict[str, str]:
    """Words for the section: what the factor gives, and what the components are."""
    outer = settings.design.outer
    return {
        "arrangement": _arrangement(settings),
        "outer": outer.called,
        "outers": plural(outer.called),
        "gives": PRECISION_WORD[scope_of(outer.called)],
        "between": f"between-{outer.called}",
    }


def limits_of_use(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """Limits of use that follow from what varied and what did not."""
    settings: PrecisionSettings = job.settings  # type: ignore[assignment]
    outer = settings.design.outer
    states = {each.factor: each for each in result.varied}
    constant = [name for name, each in states.items() if each.state == "constant"]
    silent = [name for name, each in states.items() if each.state == "not recorded"]
    limits = []
    if scope_of(outer.called) is Scope.WITHIN_LABORATORY:
        limits.append(f"The intermediate precision holds for what varied here: {_varied_words(states)}.")
    if scope_of(outer.called) is Scope.MATERIAL:
        limits.append(
            f"The spread between {plural(outer.called)} belongs to the material, not to the method; only repeatability "
            "and conditions within it are precision."
        )
    if constant:
        limits.append(f"Did not vary, so that its effect is not in these figures: {', '.join(constant)}.")
    if silent:
        limits.append(f"Not recorded in what this study read, so that nobody can tell from it: {', '.join(silent)}.")
    if settings.design.levels:
        limits.append(
            f"Shown at {counted(len(settings.design.levels), 'level')} only; between them it is an assumption that "
            "precision changes smoothly."
        )
    limits.append("Precision says nothing on trueness or on sampling, which usually adds most.")
    return tuple(limits)


def _varied_words(states: dict[str, Varied]) -> str:
    words = [f"{each.count} {name}" for name, each in states.items() if each.state == "varied"]
    return ", ".join(words) or "nothing"
