"""Criteria whose bound comes from a published set."""

from __future__ import annotations

from collections.abc import Mapping

from validate.criteria.applying import caveats, take_set
from validate.criteria.asking import Asking, Wish, unit_of
from validate.criteria.entries import CriteriaSet, Entry
from validate.criteria.own import bound_of_set
from validate.vocabulary.evaluation import Criterion, WiderBound
from validate.vocabulary.place import Place
from validate.vocabulary.verdict import JudgeBy


def published_criteria(asking: Asking, wish: Wish, in_use: Mapping[str, Place]) -> list[Criterion]:
    """One criterion per level and per set that bounds the finding."""
    names = _names(asking, wish, in_use)
    if names is None:
        return []
    found = [(asking.used[name], asking.entry(asking.used[name], wish.finding.name)) for name in names]
    bounding = [(criteria, entry) for criteria, entry in found if entry is not None]
    if not bounding:
        _refuse_missing(asking, wish, [criteria for criteria, _ in found])
        return []
    return [criterion for criteria, entry in bounding for criterion in _criteria(asking, wish, criteria, entry)]


def minimum(asked: int | None, printed: int | None, usual: int | None) -> int | None:
    """The fewest results for a verdict: the source's number, else the kind's; a protocol may ask for more."""
    base = printed if printed is not None else usual
    return asked if base is None else max(base, asked or 0)


def _names(asking: Asking, wish: Wish, in_use: Mapping[str, Place]) -> list[str] | None:
    bound, place = wish.bound, wish.place
    if bound.source is not None:
        return [bound.source] if take_set(asking, bound.source, place) else None
    if not in_use:
        if not asking.loaded.protocol.use:
            asking.refuse("no-bound", place, finding=wish.finding.name)
        return None
    return list(in_use)


def _refuse_missing(asking: Asking, wish: Wish, bounding: list[CriteriaSet]) -> None:
    available = dict.fromkeys(
        entry.finding
        for criteria in bounding
        for entry in criteria.entry
        if asking.entry(criteria, entry.finding) is not None
    )
    asking.refuse(
        "bound-missing-in-set",
        wish.place,
        sets=" or ".join(criteria.id for criteria in bounding),
        finding=wish.finding.name,
        measurand=asking.method.measurand,
        matrix=asking.matrix,
        available=", ".join(available) or "nothing for this measurand",
    )


def _criteria(asking: Asking, wish: Wish, criteria: CriteriaSet, entry: Entry) -> list[Criterion]:
    judge_by = _judge_by(asking, wish, criteria)
    stricter = judge_by is not criteria.judge_by
    notes = caveats(asking, criteria, entry, wish)
    notes += (entry.note,) if entry.note else ()
    notes += ("Judged by the interval, as the protocol asks; the source compares the estimate.",) if stricter else ()
    exception, why_not = _exception(asking, wish, criteria, entry)
    made = []
    for level in wish.levels:
        bound = wish.resolved(asking, criteria.id, entry, level)
        if bound is None:
            continue
        made.append(
            Criterion(
                kind="criterion",
                study=wish.study,
                finding=wish.finding.name,
                title=wish.finding.title,
                level=level,
                low=bound.low,
                high=bound.high,
                unit=wish.unit,
                wording=bound.wording,
                judge_by=judge_by,
                source=criteria.source,
                edition=criteria.edition,
                clause=entry.clause,
                reason=wish.bound.reason or "",
                exception=exception,
                minimum_n=minimum(wish.bound.minimum_n, entry.minimum_n, wish.finding.minimum_n),
                minimum_groups=minimum(wish.bound.minimum_groups, entry.minimum_groups, wish.finding.minimum_groups),
                notes=(*bound.notes, *notes, *why_not),
            )
        )
    return made


def _judge_by(asking: Asking, wish: Wish, criteria: CriteriaSet) -> JudgeBy:
    if wish.bound.judge_by is None:
        return criteria.judge_by
    asked = JudgeBy(wish.bound.judge_by)
    if asked is JudgeBy.ESTIMATE and criteria.judge_by is JudgeBy.INTERVAL:
        asking.refuse("laxer-judge-by", wish.place, finding=wish.finding.name, name=criteria.id)
    return asked


def _exception(
    asking: Asking, wish: Wish, criteria: CriteriaSet, entry: Entry
) -> tuple[WiderBound | None, tuple[str, ...]]:
    """The wider bound, unless a condition of the set was replaced by one that asks for less."""
    if entry.exception is None:
        return None, ()
    weakened = [name for name in entry.exception.when_met if _is_weakened(asking, wish, criteria, name)]
    if weakened:
        return None, (f"The wider bound is not offered: the own bound on {', '.join(weakened)} asks for less.",)
    _note_missing_condition(asking, wish, criteria, entry)
    low, high = entry.exception.between
    wider = WiderBound(low=low, high=high, when_met=entry.exception.when_met, wording=entry.exception.words)
    return wider, ()


def _is_weakened(asking: Asking, wish: Wish, criteria: CriteriaSet, name: str) -> bool:
    bound, kind = wish.settings.accept.get(name), wish.kind.finding(name)
    if bound is None or kind is None or not bound.bounds:
        return False
    unit = unit_of(kind, asking.method)
    return any(
        theirs is not None and theirs.asks_more_than(bound)
        for theirs in (bound_of_set(asking, criteria, name, level, unit) for level in wish.levels)
    )


def _note_missing_condition(asking: Asking, wish: Wish, criteria: CriteriaSet, entry: Entry) -> None:
    asked = {name for settings in asking.loaded.protocol.studies.values() for name in settings.accept}
    missing = [name for name in entry.exception.when_met if name not in asked]
    if missing:
        values = {"missing": ", ".join(missing), "study": wish.study}
        asking.refuse("exception-not-usable", wish.place, name=criteria.id, finding=wish.finding.name, **values)
