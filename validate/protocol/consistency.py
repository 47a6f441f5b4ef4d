"""What can be seen from the protocol alone, across its parts, before any table is read.

Every check takes the parts it needs and is silent when one of them is missing or faulty.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from validate.protocol.settings import OneBound, StudySettings
from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)
_LARGEST_FRACTION = 2.0
_SMALLEST_PERCENT_OF_RSD = 0.5

PlaceOf = Callable[..., Place]


def inconsistencies(parts: Any, place: PlaceOf) -> list[Problem]:
    """Problems across the parts of a protocol (a Protocol, or one with None for missing parts)."""
    return [
        *_limit_outside_scope(parts, place),
        *_screening_without_limit(parts, place),
        *_expired_materials(parts, place),
        *_of_claims(parts, place),
        *(problem for name in parts.studies or {} for problem in _of_study(name, parts, place)),
    ]


def declared_levels(settings: StudySettings) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Key path below the study and levels: those under `levels` or `design.levels`, else none."""
    for path, holder in ((("levels",), settings), (("design", "levels"), getattr(settings, "design", None))):
        levels = getattr(holder, "levels", None)
        if isinstance(levels, tuple) and all(isinstance(level, str) for level in levels):
            return path, levels
    return (), ()


def _of_study(name: str, parts: Any, place: PlaceOf) -> Iterator[Problem]:
    settings = parts.studies[name]
    path, levels = declared_levels(settings)
    beyond = settings.levels_beyond_scope
    yield from _of_levels(("studies", name, *path), levels, parts, place, beyond_scope=beyond)
    for finding, bound in settings.accept.items():
        above = ("studies", name, "accept", finding)
        yield from _of_levels((*above, "levels"), bound.levels or (), parts, place, beyond_scope=beyond)
        yield from _fraction(finding, bound, above, place)


def _of_claims(parts: Any, place: PlaceOf) -> Iterator[Problem]:
    for finding, claim in (parts.claims or {}).items():
        yield from _of_levels(("claims", finding, "levels"), claim.levels or (), parts, place)
        yield from _fraction(finding, claim, ("claims", finding), place)


def _of_levels(
    path: tuple[str, ...], levels: tuple[str, ...], parts: Any, place: PlaceOf, *, beyond_scope: bool = False
) -> Iterator[Problem]:
    scope = parts.method.scope if parts.method else None
    for position, level in enumerate(levels):
        if level in levels[:position]:
            yield PROBLEMS.problem("level-repeated", place(*path, position), level=level)
        elif scope and not beyond_scope and float(level) != 0 and not scope.from_ <= float(level) <= scope.to:
            yield PROBLEMS.problem(
                "level-outside-scope",
                place(*path, position),
                level=level,
                low=_text(scope.from_),
                high=_text(scope.to),
                unit=parts.method.unit,
            )


def _limit_outside_scope(parts: Any, place: PlaceOf) -> Iterator[Problem]:
    method = parts.method
    if not (method and method.scope and method.limit):
        return
    if not method.scope.from_ <= method.limit.value <= method.scope.to:
        yield PROBLEMS.problem(
            "limit-outside-scope",
            place("method", "limit", "value"),
            value=_text(method.limit.value),
            low=_text(method.scope.from_),
            high=_text(method.scope.to),
            unit=method.unit,
        )


def _screening_without_limit(parts: Any, place: PlaceOf) -> Iterator[Problem]:
    if parts.intended_use == "screening" and parts.method and parts.method.limit is None:
        yield PROBLEMS.problem("screening-without-limit", place("intended_use"))


def _expired_materials(parts: Any, place: PlaceOf) -> Iterator[Problem]:
    for name, material in (parts.materials or {}).items():
        if parts.issued and material.expires and material.expires < parts.issued:
            yield PROBLEMS.problem(
                "expired-before-issue",
                place("materials", name, "expires"),
                material=name,
                expires=material.expires,
                issued=parts.issued,
            )


def _fraction(finding: str, bound: OneBound, path: tuple[str, ...], place: PlaceOf) -> Iterator[Problem]:
    """A recovery of 0.7 to 1.2, or an RSD of at most 0.2, was hardly meant in percent."""
    if not bound.bounds:
        return
    key = bound.bounds[0]
    value = getattr(bound, key)
    ends = value if isinstance(value, tuple) else (value,)
    words = finding.lower().split("/")[-1].split("_")
    values = {
        "bound": " to ".join(_text(end) for end in ends),
        "percent": " to ".join(_text(100 * end) for end in ends),
        "finding": finding,
    }
    if "recovery" in words and 0 < ends[-1] <= _LARGEST_FRACTION:
        yield PROBLEMS.problem("fraction-for-percent", place(*path, key), **values)
    elif "rsd" in words and 0 < ends[-1] < _SMALLEST_PERCENT_OF_RSD:
        yield PROBLEMS.problem("small-percent", place(*path, key), **values)


def _text(number: float) -> str:
    return f"{number:.10g}"
