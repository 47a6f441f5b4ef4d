"""A chain that cannot be is told before any table is read, each step at its place."""

from __future__ import annotations

from validate.portion.chain import chain_of
from validate.protocol.loading import LoadedProtocol
from validate.stats.portion import impossibilities
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)


def impossible_steps(loaded: LoadedProtocol) -> list[Problem]:
    """One error for each step of `method.portion` that cannot be."""
    portion = loaded.protocol.method.portion
    if portion is None:
        return []
    problems = []
    for each in impossibilities(chain_of(portion)):
        keys = ("tolerances", *each.step) if each.kind == "tolerance" else each.step
        problems.append(
            PROBLEMS.problem("impossible-step", loaded.place("method", "portion", *keys), reason=each.reason)
        )
    return problems
