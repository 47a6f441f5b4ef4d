"""From `use`, `accept` and `claims` of a protocol to criteria with numbers, before any result is seen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from validate.criteria.applying import note_applicability, unasked_bounds
from validate.criteria.asking import Asking, Wish, nearest, unit_of
from validate.criteria.catalogue import criteria_set, excerpt, sets
from validate.criteria.claiming import claims_to_criteria
from validate.criteria.designs import designs
from validate.criteria.own import own_criteria
from validate.criteria.published import published_criteria
from validate.protocol.loading import LoadedProtocol
from validate.protocol.settings import Bound
from validate.studies.contract import Method, Study
from validate.vocabulary.evaluation import CatalogueExcerpt, Criterion
from validate.vocabulary.finding import FindingKind
from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem


@dataclass(frozen=True, kw_only=True)
class Resolution:
    """Every criterion and claim with its numbers, the sets that gave them, and what is wrong."""

    criteria: tuple[Criterion, ...]
    excerpts: tuple[CatalogueExcerpt, ...]
    problems: tuple[Problem, ...]


def resolve(loaded: LoadedProtocol, studies: Mapping[str, Study], method: Method) -> Resolution:
    """Criteria of every study and claim, at every declared level, in the order of the protocol.

    `studies` maps the study's name in the protocol to its kind. A finding bounded by
    several sets in use gives one criterion for each set: the stricter is not lost and the
    laxer is not hidden.
    """
    asking = Asking(loaded, method)
    in_use = _sets_in_use(asking)
    wishes = [wish for name, kind in studies.items() for wish in _wishes(asking, name, kind)]
    criteria = [
        criterion
        for wish in wishes
        for criterion in (
            own_criteria(asking, wish, in_use) if wish.bound.bounds else published_criteria(asking, wish, in_use)
        )
    ]
    criteria += claims_to_criteria(asking, studies)
    unasked_bounds(asking, studies, in_use)
    _check_design_names(asking, studies)
    return Resolution(
        criteria=tuple(criteria),
        excerpts=tuple(excerpt(each) for each in asking.used.values()),
        problems=tuple(asking.problems),
    )


def comparisons(criteria: Iterable[Criterion], study: str) -> int:
    """K of a study: its judged level × criterion pairs, missing levels included; at least 1."""
    return max(1, sum(criterion.study == study for criterion in criteria))


def _sets_in_use(asking: Asking) -> dict[str, Place]:
    """The known sets under `use` with their places; unknown ones become problems."""
    in_use = {}
    for i, name in enumerate(asking.loaded.protocol.use):
        place = asking.loaded.place("use", i)
        found = criteria_set(name)
        if found is None:
            asking.refuse("unknown-set", place, name=name, nearest=nearest(name, (each.id for each in sets())))
        elif name not in in_use:
            in_use[name] = place
            asking.used[name] = found
            note_applicability(asking, found, place)
    return in_use


def _wishes(asking: Asking, study: str, kind: Study) -> list[Wish]:
    settings = asking.loaded.protocol.studies[study]
    wishes = []
    for name, bound in settings.accept.items():
        place = asking.loaded.place("studies", study, "accept", name)
        finding = kind.finding(name)
        if finding is None:
            hint = nearest(name, (each.name for each in kind.findings))
            asking.refuse("unknown-finding", place, finding=name, study=study, kind=kind.kind, nearest=hint)
            continue
        levels = _levels(asking, finding, kind.levels(settings), study, bound, place)
        wishes.append(
            Wish(
                study=study,
                kind=kind,
                settings=settings,
                finding=finding,
                bound=bound,
                levels=levels,
                unit=unit_of(finding, asking.method),
                place=place,
            )
        )
    return wishes


def _levels(
    asking: Asking, finding: FindingKind, declared: tuple[str, ...], study: str, bound: Bound, place: Place
) -> tuple[str | None, ...]:
    """The levels to judge: the declared ones, or those that the bound is restricted to."""
    if not finding.per_level:
        if bound.levels is not None or bound.per == "level":
            asking.refuse("per-level-wanted", place, finding=finding.name, study=study)
        return (None,)
    if bound.per == "study" and declared:
        asking.refuse("per-study-wanted", place, finding=finding.name, study=study)
    for i, level in enumerate(bound.levels or ()):
        if level not in declared:
            values = {"level": level, "finding": finding.name, "study": f'study "{study}"'}
            spot = asking.loaded.place("studies", study, "accept", finding.name, "levels", i)
            asking.refuse("undeclared-level", spot, nearest=nearest(level, declared), **values)
    if bound.levels is not None:
        return tuple(level for level in declared if level in bound.levels)
    return declared or (None,)


def _check_design_names(asking: Asking, studies: Mapping[str, Study]) -> None:
    known = [design.id for design in designs()]
    for study in studies:
        for i, name in enumerate(asking.loaded.protocol.studies[study].minimum_design):
            if name not in known:
                place = asking.loaded.place("studies", study, "minimum_design", i)
                asking.refuse("unknown-design", place, name=name, nearest=nearest(name, known))
