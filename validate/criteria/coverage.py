"""What the purpose expects and nobody studied, and where the dossier answers ISO/IEC 17025."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from pydantic import TypeAdapter
from pydantic.dataclasses import dataclass

from validate.criteria.reading import FOLDER, read_toml
from validate.studies.contract import Study
from validate.studies.discovery import kinds
from validate.vocabulary import FROZEN
from validate.vocabulary.evaluation import Clause, Gap, StudyResult

if TYPE_CHECKING:
    from validate.protocol.model import Protocol

State = Literal["answered", "in part", "not answered"]


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Characteristic:
    """A performance characteristic and the purposes that expect it."""

    title: str
    expected_by: tuple[str, ...]
    findings: tuple[str, ...]
    """Names under which a claim may be written although no study gives the figure."""
    unit: str = "%"
    intended_use: tuple[str, ...] = ()
    """Uses for which the characteristic says something; empty for every use."""

    def is_for(self, use: str) -> bool:
        return not self.intended_use or use in self.intended_use


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class ClauseEntry:
    """One clause of the standard and where the dossier answers it."""

    clause: str
    title: str
    section: str
    anchor: str
    state: State
    """The best that this version can give."""
    needs: tuple[str, ...] = ()
    """Characteristics of which the protocol must study one; otherwise `not answered`."""
    needs_readiness: bool = False
    """`not answered` where the protocol has no rules on readiness."""
    complete_without_gaps: bool = False
    """`in part` as long as the purpose expects something that nobody studied."""


@lru_cache(maxsize=1)
def characteristics() -> dict[str, Characteristic]:
    """Key → characteristic, in the order of the data file."""
    return TypeAdapter(dict[str, Characteristic]).validate_python(read_toml(FOLDER / "characteristics.toml"))


def gaps(
    protocol: Protocol, studies: Mapping[str, Study], results: Mapping[str, StudyResult] | None = None
) -> tuple[Gap, ...]:
    """Characteristics that the purpose expects and that no study of the protocol covers.

    With `results` a characteristic counts as covered only when a figure was computed for
    it: a recovery study on a single day leaves intermediate precision open.
    """
    covered = covered_characteristics(studies, results)
    available = covered_characteristics(kinds())
    return tuple(
        Gap(characteristic=key, title=each.title, why=_why(key, protocol.purpose, studies, available))
        for key, each in characteristics().items()
        if protocol.purpose in each.expected_by and each.is_for(protocol.intended_use) and key not in covered
    )


def covered_characteristics(
    studies: Mapping[str, Study], results: Mapping[str, StudyResult] | None = None
) -> frozenset[str]:
    """The characteristics that these studies declare, or of which they gave a figure."""
    return frozenset(
        finding.characteristic
        for name, kind in studies.items()
        for finding in kind.findings
        if finding.characteristic and (results is None or _has_value(results.get(name), finding.name))
    )


def clauses(
    protocol: Protocol, studies: Mapping[str, Study], results: Mapping[str, StudyResult] | None = None
) -> tuple[Clause, ...]:
    """Clauses of ISO/IEC 17025:2017 with the section that answers each, and how far it does."""
    missing = gaps(protocol, studies, results)
    covered = covered_characteristics(studies, results)
    entries = TypeAdapter(tuple[ClauseEntry, ...]).validate_python(read_toml(FOLDER / "clauses.toml")["clause"])
    return tuple(
        Clause(
            clause=entry.clause,
            title=entry.title,
            section=entry.section,
            anchor=entry.anchor,
            state=_state(entry, covered, has_gaps=bool(missing), has_readiness=protocol.readiness is not None),
        )
        for entry in entries
    )


def _state(entry: ClauseEntry, covered: Iterable[str], *, has_gaps: bool, has_readiness: bool) -> State:
    if entry.needs and not set(entry.needs) & set(covered):
        return "not answered"
    if entry.needs_readiness and not has_readiness:
        return "not answered"
    if entry.complete_without_gaps and has_gaps:
        return "in part"
    return entry.state


def _has_value(result: StudyResult | None, name: str) -> bool:
    return result is not None and any(f.name == name and f.value is not None for f in result.findings)


def _why(key: str, purpose: str, studies: Mapping[str, Study], available: Iterable[str]) -> str:
    expects = f"The purpose '{purpose}' expects it; "
    if key in covered_characteristics(studies):
        return expects + "a study of this protocol could give it, but no figure was computed."
    if key in available:
        return expects + "no study of this protocol gives it."
    return expects + "this version has no study for it, so it must be shown elsewhere."
