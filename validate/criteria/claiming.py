"""Claims to verify: a supplier's or a standard's figures, held against every study that gives them."""

from __future__ import annotations

from collections.abc import Mapping

from validate.criteria.applying import clash_of_use
from validate.criteria.asking import Asking, ends_of, nearest, unit_of
from validate.criteria.catalogue import sets
from validate.criteria.coverage import characteristics
from validate.criteria.words import bound_words
from validate.protocol.settings import Claim
from validate.studies.contract import Study
from validate.studies.discovery import kinds
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.finding import FindingKind
from validate.vocabulary.verdict import JudgeBy

NOT_STUDIED = ""
"""The `study` of a criterion that no study of the protocol can answer."""


def claims_to_criteria(asking: Asking, studies: Mapping[str, Study]) -> list[Criterion]:
    """Every claim at every level of every study that gives the finding.

    A claim that no study gives stays in the requirement table: its criterion has the
    study `NOT_STUDIED` and is judged `not shown`.
    """
    criteria = []
    for name, claim in asking.loaded.protocol.claims.items():
        place = asking.loaded.place("claims", name)
        known = _known_names(studies)
        if name not in known:
            asking.refuse("unknown-claim", place, finding=name, nearest=nearest(name, known))
            continue
        giving = {study: kind for study, kind in studies.items() if kind.finding(name) is not None}
        if giving:
            criteria += _of_studies(asking, name, claim, giving)
        else:
            asking.refuse("claim-not-studied", place, finding=name)
            criteria += [_criterion(NOT_STUDIED, name, level, claim, known[name] or asking.method.unit, None)
                         for level in claim.levels or (None,)]  # fmt: skip
    return criteria


def _of_studies(asking: Asking, name: str, claim: Claim, giving: Mapping[str, Study]) -> list[Criterion]:
    declared = {study: kind.levels(asking.loaded.protocol.studies[study]) for study, kind in giving.items()}
    for i, level in enumerate(claim.levels or ()):
        if not any(level in levels for levels in declared.values()):
            everywhere = dict.fromkeys(each for levels in declared.values() for each in levels)
            place = asking.loaded.place("claims", name, "levels", i)
            values = {"level": level, "finding": name, "study": "any study that gives it"}
            asking.refuse("undeclared-level", place, nearest=nearest(level, everywhere), **values)
    criteria = []
    for study, kind in giving.items():
        finding = kind.finding(name)
        levels = declared[study] if finding.per_level else ()
        wanted = [level for level in levels if claim.levels is None or level in claim.levels]
        unit = unit_of(finding, asking.method)
        notes = clash_of_use(asking, study, finding, asking.loaded.place("claims", name))
        criteria += [
            _criterion(study, name, level, claim, unit, finding, notes) for level in (wanted if levels else (None,))
        ]
    return criteria


def _criterion(
    study: str,
    name: str,
    level: str | None,
    claim: Claim,
    unit: str,
    finding: FindingKind | None,
    notes: tuple[str, ...] = (),
) -> Criterion:
    low, high = ends_of(claim)
    return Criterion(
        kind="claim",
        study=study,
        finding=name,
        title=finding.title if finding else _characteristic_title(name),
        level=level,
        low=low,
        high=high,
        unit=unit,
        wording=bound_words(low, high, unit),
        judge_by=JudgeBy(claim.judge_by),
        source=claim.source,
        minimum_n=finding.minimum_n if finding else None,
        minimum_groups=finding.minimum_groups if finding else None,
        notes=notes,
    )


def _known_names(studies: Mapping[str, Study]) -> dict[str, str]:
    """Names under which a claim may be written → unit of its bound, empty for the method's unit."""
    names = {entry.finding: entry.unit for criteria in sets() for entry in criteria.entry}
    names |= {name: each.unit for each in characteristics().values() for name in each.findings}
    for kind in (*kinds().values(), *studies.values()):
        names |= {finding.name: finding.unit for finding in kind.findings}
    return {name: "" if unit == "method" else unit for name, unit in names.items()}


def _characteristic_title(name: str) -> str:
    """Words for a finding that only later studies give: the characteristic that it belongs to."""
    return next((each.title for each in characteristics().values() if name in each.findings), name)
