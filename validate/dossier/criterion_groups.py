"""Criteria of a study's section: the levels of one criterion under its bound, with the worth of their verdicts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from validate.dossier import numbers
from validate.dossier.criterion_context import CriterionGroup, CriterionView, WorthRow
from validate.vocabulary.evaluation import PassChance


def criterion_groups(views: Iterable[CriterionView]) -> list[CriterionGroup]:
    """Views that differ in nothing but level, bound and outcome stand together, in the order of their first."""
    groups: dict[tuple[object, ...], list[CriterionView]] = {}
    for view in views:
        groups.setdefault((view.criterion.finding, view.kind, view.judged_by, view.source), []).append(view)
    return [_group(members) for members in groups.values()]


def _group(views: Sequence[CriterionView]) -> CriterionGroup:
    first = views[0]
    return CriterionGroup(
        title=first.title,
        kind=first.kind,
        wording="; ".join(dict.fromkeys(view.wording for view in views)),
        judged_by=first.judged_by,
        source=first.source,
        reason="; ".join(dict.fromkeys(view.criterion.reason for view in views if view.criterion.reason)),
        exceptions=tuple(dict.fromkeys(view.exception for view in views if view.exception)),
        notes=tuple(dict.fromkeys(note for view in views for note in view.criterion.notes)),
        rows=tuple(views),
        worth=_worth(views),
    )


def _worth(views: Sequence[CriterionView]) -> tuple[WorthRow, ...]:
    """One row for each truth that some level was asked about; a level that was not asked holds a dash."""
    chances = [{_truth(view, chance): chance.chance for chance in view.chances} for view in views]
    truths = dict.fromkeys(truth for of_level in chances for truth in of_level)
    return tuple(
        WorthRow(
            truth=truth,
            chances=tuple(
                numbers.percent_of_one(of_level[truth]) if truth in of_level else numbers.EN_DASH
                for of_level in chances
            ),
        )
        for truth in truths
    )


def _truth(view: CriterionView, chance: PassChance) -> str:
    unit = view.criterion.unit if chance.unit is None else chance.unit
    return f"{numbers.with_unit(numbers.significant(chance.value, 3), unit)}, {chance.truth}"
