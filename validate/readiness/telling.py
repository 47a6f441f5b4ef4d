"""The problems of this room, and how many of one kind are told."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from validate.readiness.rules import Rule
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)
MOST_OF_A_KIND = 10


def said(rule: Rule) -> str:
    """A rule in the middle of a sentence."""
    return rule.title[:1].lower() + rule.title[1:]


def capped(problems: Sequence[Problem]) -> list[Problem]:
    """The first ten of each kind, and the number of the others."""
    kinds: dict[str, list[Problem]] = defaultdict(list)
    for problem in problems:
        kinds[problem.code].append(problem)
    told = []
    for code, kind in kinds.items():
        told += kind[:MOST_OF_A_KIND]
        if rest := kind[MOST_OF_A_KIND:]:
            title = PROBLEMS.entries[code]["title"]
            more = PROBLEMS.problem("more-of-the-same", rest[0].place, count=f"{len(rest):,}", title=title)
            told.append(replace(more, severity=rest[0].severity))
    return told
