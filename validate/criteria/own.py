"""Criteria that the laboratory set itself, with its reason."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from validate.criteria.applying import clash_of_use, take_set
from validate.criteria.asking import Asking, Wish, ends_of
from validate.criteria.bounds import BoundMissing, bound_at
from validate.criteria.catalogue import THE_LABORATORY
from validate.criteria.entries import CriteriaSet
from validate.criteria.words import bound_words
from validate.protocol.settings import Bound
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.place import Place
from validate.vocabulary.verdict import JudgeBy


def own_criteria(asking: Asking, wish: Wish, in_use: Mapping[str, Place]) -> list[Criterion]:
    """One criterion per level; a bound laxer than a set in use needs `overrides`.

    That a typed bound has a source, a reason and `judge_by` is checked with the protocol's form.
    """
    bound = wish.bound
    if bound.overrides is not None and take_set(asking, bound.overrides, wish.place) is None:
        return []
    low, high = ends_of(bound)
    clash = clash_of_use(asking, wish.study, wish.finding, wish.place)
    notes = {level: (*_beside_sets(asking, wish, level, in_use), *clash) for level in wish.levels}
    return [
        Criterion(
            kind="criterion",
            study=wish.study,
            finding=wish.finding.name,
            title=wish.finding.title,
            level=level,
            low=low,
            high=high,
            unit=wish.unit,
            wording=bound_words(low, high, wish.unit),
            judge_by=JudgeBy(bound.judge_by),
            source=THE_LABORATORY,
            reason=bound.reason,
            minimum_n=bound.minimum_n if bound.minimum_n is not None else wish.finding.minimum_n,
            minimum_groups=bound.minimum_groups if bound.minimum_groups is not None else wish.finding.minimum_groups,
            notes=notes[level],
        )
        for level in wish.levels
    ]


@dataclass(frozen=True, kw_only=True)
class BoundOfSet:
    """What a set asks at one level, for comparison with an own bound."""

    low: float
    high: float
    wording: str
    judge_by: JudgeBy

    def asks_more_than(self, own: Bound) -> bool:
        """Whether the own bound is wider, or judged by the estimate where the set asks for the interval."""
        low, high = ends_of(own)
        wider = (-math.inf if low is None else low) < self.low or (math.inf if high is None else high) > self.high
        return wider or (self.judge_by is JudgeBy.INTERVAL and own.judge_by == JudgeBy.ESTIMATE)


def bound_of_set(
    asking: Asking, criteria: CriteriaSet, finding: str, level: str | None, unit: str
) -> BoundOfSet | None:
    """The set's bound on a finding at a level; None where it has none there."""
    entry = asking.entry(criteria, finding)
    if entry is None:
        return None
    try:
        bound = bound_at(entry, level, asking.method, unit)
    except BoundMissing:
        return None
    return BoundOfSet(
        low=-math.inf if bound.low is None else bound.low,
        high=math.inf if bound.high is None else bound.high,
        wording=bound.wording,
        judge_by=criteria.judge_by,
    )


def _beside_sets(asking: Asking, wish: Wish, level: str | None, in_use: Mapping[str, Place]) -> tuple[str, ...]:
    """What the sets ask at this level; a problem where the own bound asks for less without `overrides`."""
    overrides = wish.bound.overrides
    names = dict.fromkeys((*([overrides] if overrides else []), *in_use))
    notes = []
    for name in names:
        theirs = bound_of_set(asking, asking.used[name], wish.finding.name, level, wish.unit)
        if theirs is None:
            continue
        if overrides == name:
            notes.append(f"Replaces the bound of {name}: {theirs.wording}.")
        elif not theirs.asks_more_than(wish.bound):
            notes.append(f"Not laxer than {name}: {theirs.wording}.")
        elif overrides is not None:
            notes.append(f"Also asks for less than {name}: {theirs.wording}.")
        else:
            _refuse_laxer(asking, wish, name, level, theirs)
    return tuple(notes)


def _refuse_laxer(asking: Asking, wish: Wish, name: str, level: str | None, theirs: BoundOfSet) -> None:
    asking.refuse(
        "own-laxer-than-set",
        wish.place,
        finding=wish.finding.name,
        name=name,
        own=bound_words(*ends_of(wish.bound), wish.unit),
        theirs=theirs.wording,
        at_level="" if level is None else f" at level {level}",
    )
