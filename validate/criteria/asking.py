"""What every part of the resolver shares: the question asked, and the problems collected."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches

from validate.criteria.bounds import BoundMissing, ResolvedBound, bound_at
from validate.criteria.entries import CriteriaSet, Entry, speaks_of
from validate.protocol.loading import LoadedProtocol
from validate.protocol.settings import Bound, OneBound, StudySettings
from validate.studies.contract import Method, Study
from validate.vocabulary.finding import FindingKind
from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)


@dataclass
class Asking:
    """The protocol that asks, and what was found wrong or used so far."""

    loaded: LoadedProtocol
    method: Method
    problems: list[Problem] = field(default_factory=list)
    used: dict[str, CriteriaSet] = field(default_factory=dict)

    @property
    def matrix(self) -> str:
        return self.loaded.protocol.method.matrix

    def refuse(self, code: str, place: Place, **values: object) -> None:
        problem = PROBLEMS.problem(code, place, **values)
        if problem not in self.problems:
            self.problems.append(problem)

    def entry(self, criteria: CriteriaSet, finding: str) -> Entry | None:
        """The first entry of the set that holds for this finding, measurand and matrix."""
        return next(
            (
                entry
                for entry in criteria.entry
                if entry.finding == finding
                and speaks_of(entry.measurands, self.method.measurand)
                and speaks_of(entry.matrices, self.matrix)
            ),
            None,
        )


@dataclass(frozen=True, kw_only=True)
class Wish:
    """One entry under `accept` of a study: which finding at which levels, with what bound."""

    study: str
    kind: Study
    settings: StudySettings
    finding: FindingKind
    bound: Bound
    levels: tuple[str | None, ...]
    unit: str
    place: Place

    def resolved(self, asking: Asking, name: str, entry: Entry, level: str | None) -> ResolvedBound | None:
        """The set's bound at a level; what is missing becomes a problem."""
        try:
            return bound_at(entry, level, asking.method, self.unit)
        except BoundMissing as missing:
            values = {"level": level, "study": self.study} | missing.values
            asking.refuse(missing.code, self.place, name=name, finding=self.finding.name, **values)
            return None


def unit_of(kind: FindingKind, method: Method) -> str:
    """The unit in which the bound on this finding is written."""
    return method.unit if kind.unit == "method" else kind.unit


def nearest(name: str, known: Iterable[str]) -> str:
    """A hint for an unknown name: the nearest known ones, else all of them."""
    names = sorted(set(known))
    close = get_close_matches(name, names, n=3, cutoff=0.6)
    if close:
        return "did you mean " + " or ".join(f'"{each}"' for each in close) + "?"
    return "known are: " + ", ".join(names) if names else "none is known here"


def ends_of(bound: OneBound) -> tuple[float | None, float | None]:
    """Lower and upper bound as typed in a protocol, None for an open end."""
    if bound.between is not None:
        return bound.between
    return bound.at_least, bound.at_most
