"""The bench plan of a precision study: groups, results in them, what is written down."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from validate.studies.contract import PlanInput
from validate.studies.precision.outlook import Planned, foresights
from validate.studies.precision.settings import Factor, PrecisionSettings
from validate.studies.precision.words import CONDITIONS, counted, plural
from validate.vocabulary.bench import Entry, Position, StudyPlan, bounded

USUAL_GROUPS = 5
USUAL_INNER = 2
USUAL_REPLICATES = 2
BLOCKS = ("day", "run")
"""Factors whose groups are measured one after the other."""
CODE = "sample"


@dataclass(frozen=True)
class Numbered:
    """The number of each factor's group for one cell of the design, by column."""

    of: dict[str, int]

    def number(self, factors: tuple[Factor, ...], *called: str) -> int | None:
        found = (self.of[factor.column] for word in called for factor in factors if factor.called == word)
        return next(found, None)


def plan(job: PlanInput) -> StudyPlan:
    """Every level, group and replicate as one position; numbers that the protocol leaves out are taken and told."""
    settings: PrecisionSettings = job.settings  # type: ignore[assignment]
    planned = _planned(settings)
    has_code = all(factor.column != CODE for factor in settings.conditions)
    return StudyPlan(
        positions=bounded(_positions(job, settings, planned)),
        entries=tuple(_entries(job, settings, has_code=has_code)),
        code_role=CODE if has_code else "",
        steps=(
            "Take the portions from one well-mixed material for each level; never from the extract of another portion.",
            "Work in the order below. It is random within a session, so that drift does not look like a group.",
            f"Results of one {settings.design.factors[-1].called} are made under unchanged conditions.",
        ),
        records=(
            "material: how it was mixed and kept",
            *(f"{factor.called} of every result" for factor in settings.conditions),
            "reading as shown, with its < or n.d.; never 0 in the place of either",
            "anything unusual at once: a result can be left out later only with a reason",
        ),
        foresights=foresights(job, settings, planned),
        told=tuple(_told(settings, planned)),
    )


def _planned(settings: PrecisionSettings) -> Planned:
    design = settings.design
    inner = (*design.inner_groups, *([USUAL_INNER] * len(design.inner)))[: len(design.inner)]
    return Planned(
        kind=design.kind,
        outer=design.groups or USUAL_GROUPS,
        inner=inner,
        replicates=design.replicates or USUAL_REPLICATES,
        sized=plural(design.outer.called),
    )


def _positions(job: PlanInput, settings: PrecisionSettings, planned: Planned) -> Iterator[Position]:
    factors = settings.design.factors
    for level, groups in product(settings.design.levels or (None,), _groups(settings, planned)):
        for replicate in range(1, planned.replicates + 1):
            place = ", ".join(
                f"{f.called} {groups.of[f.column]}" for f in factors if f.called not in (*BLOCKS, "analyst")
            )
            at = f"material of {level} {job.method.unit}" if level is not None else "material of the study"
            cells = {column: str(number) for column, number in groups.of.items()}
            yield Position(
                day=groups.number(factors, *BLOCKS) or 1,
                analyst=groups.number(factors, "analyst"),
                label=f"{at}, {place}" if place else at,
                level=level,
                replicate=replicate,
                cells=cells if level is None else {**cells, "level": level},
            )


def _groups(settings: PrecisionSettings, planned: Planned) -> Iterator[Numbered]:
    """Cells of the design; nested inner groups are numbered through, crossed ones anew."""
    outer, inner = settings.design.outer, settings.design.inner
    for g in range(1, planned.outer + 1):
        for numbers in product(*(range(1, count + 1) for count in planned.inner)):
            if planned.kind == "nested":
                numbers = ((g - 1) * planned.inner[0] + numbers[0],)
            yield Numbered({outer.column: g} | {f.column: n for f, n in zip(inner, numbers, strict=True)})


def _entries(job: PlanInput, settings: PrecisionSettings, *, has_code: bool) -> Iterator[Entry]:
    method = job.method
    tops = [float(level) for level in settings.design.levels] + [method.scope_to or 0]
    if has_code:
        yield Entry(role=CODE, filled="plan")
    if settings.design.levels:
        yield Entry(role="level", filled="plan")
    for factor in settings.design.factors:
        yield Entry(role=factor.column, filled="proposed")
    for factor in settings.design.recorded:
        yield Entry(role=factor.column)
    high = 2 * max(tops) if max(tops) > 0 else None
    yield Entry(role="result", low=min(0.0, method.floor or 0.0), high=high)


def _told(settings: PrecisionSettings, planned: Planned) -> Iterator[str]:
    design = settings.design
    if design.groups is None:
        yield f"The protocol does not say how many {planned.sized}; {planned.outer} are taken. Write design: groups."
    if len(design.inner_groups) < len(design.inner):
        names = ", ".join(counted(n, f.called) for n, f in zip(planned.inner, design.inner, strict=True))
        yield f"The protocol does not say how many groups lie inside; {names} are taken. Write design: inner_groups."
    if design.replicates is None:
        yield f"The protocol does not say how many results make a group; {planned.replicates} are taken."
    missing = [name for name in CONDITIONS if name in settings.not_recorded]
    if missing:
        yield f"Not recorded, so that nothing can be said of it: {', '.join(missing)}."
