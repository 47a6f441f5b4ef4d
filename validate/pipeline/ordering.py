"""A study that needs findings of other kinds is evaluated after them; circles are refused."""

from __future__ import annotations

from collections.abc import Mapping
from graphlib import CycleError, TopologicalSorter

from validate.protocol.loading import LoadedProtocol
from validate.studies.contract import Study
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)


def evaluation_order(studies: Mapping[str, Study]) -> dict[str, Study]:
    """`studies` in an order in which every study comes after those that give what it needs.

    Raises ValueError when kinds of study need each other in a circle: that is a fault of
    the package, not of a protocol.
    """
    waits_for = {
        name: [other for other, offered in studies.items() if other != name and _gives(offered, kind)]
        for name, kind in studies.items()
    }
    try:
        return {name: studies[name] for name in TopologicalSorter(waits_for).static_order()}
    except CycleError as error:
        raise ValueError(f"studies need each other in a circle: {' → '.join(error.args[1])}") from error


def missing_needs(loaded: LoadedProtocol, studies: Mapping[str, Study]) -> list[Problem]:
    """Needs without which a study cannot be evaluated and that no study of the protocol gives."""
    return [
        PROBLEMS.problem(
            "need-not-given",
            loaded.place("studies", name),
            study=name,
            finding=need.finding,
            why=need.why,
        )
        for name, kind in studies.items()
        for need in kind.needs
        if need.required and not any(other.finding(need.finding) for n, other in studies.items() if n != name)
    ]


def _gives(offered: Study, kind: Study) -> bool:
    return offered.kind != kind.kind and any(offered.finding(need.finding) for need in kind.needs)
