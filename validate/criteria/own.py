"""Criteria that the laboratory set itself, with its reason."""

from __future__ import annotations

import math
from collections.abc import Mapping

from validate.criteria.asking import Asking, Wish, ends_of
from validate.criteria.bounds import BoundMissing, bound_at
from validate.criteria.catalogue import THE_LABORATORY, criteria_set
from validate.criteria.entries import CriteriaSet
from validate.criteria.published import take_set
from validate.criteria.words import bound_words
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
    notes = {level: _beside_sets(asking, wish, level, in_use) for level in wish.levels}
    return [
        Criterion(
            kind="criterion",
            study=wish.study,
            finding=wish.finding.name,
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


def _beside_sets(asking: Asking, wish: Wish, level: str | None, in_use: Mapping[str, Place]) -> tuple[str, ...]:
    """What the sets ask at this level; a problem where the own bound asks for less without `overrides`."""
    names = dict.fromkeys((*([wish.bound.overrides] if wish.bound.overrides else []), *in_use))
    notes = []
    for name in names:
        theirs = _bound_of_set(asking, wish, criteria_set(name), level)
        if theirs is None:
            continue
        if wish.bound.overrides == name:
            notes.append(f"Replaces the bound of {name}: {theirs[2]}.")
        elif not _is_laxer(wish, criteria_set(name), theirs[0], theirs[1]):
            notes.append(f"Not laxer than {name}: {theirs[2]}.")
        elif wish.bound.overrides is not None:
            notes.append(f"Also asks for less than {name}: {theirs[2]}.")
        else:
            values = {"own": bound_words(*ends_of(wish.bound), wish.unit), "theirs": theirs[2]}
            at_level = f" at level {level}" if level is not None else ""
            code = "own-laxer-than-set"
            asking.refuse(code, wish.place, finding=wish.finding.name, name=name, at_level=at_level, **values)
    return tuple(notes)


def _bound_of_set(
    asking: Asking, wish: Wish, criteria: CriteriaSet, level: str | None
) -> tuple[float, float, str] | None:
    entry = asking.entry(criteria, wish.finding.name)
    if entry is None:
        return None
    try:
        bound = bound_at(entry, level, asking.method, wish.unit)
    except BoundMissing:
        return None
    low = -math.inf if bound.low is None else bound.low
    return low, math.inf if bound.high is None else bound.high, bound.wording


def _is_laxer(wish: Wish, criteria: CriteriaSet, low: float, high: float) -> bool:
    own_low, own_high = ends_of(wish.bound)
    wider = (-math.inf if own_low is None else own_low) < low or (math.inf if own_high is None else own_high) > high
    return wider or (criteria.judge_by is JudgeBy.INTERVAL and wish.bound.judge_by == JudgeBy.ESTIMATE)
