"""What a verdict on an estimate is worth: how often methods near the bound would have passed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from validate.vocabulary.evaluation import Criterion, Judgement, PassChance
from validate.vocabulary.finding import Finding, Sampling

MULTIPLES = (0.75, 1.0, 1.25)
"""True values as multiples of a bound with one end."""
QUARTER = 0.25
"""Step inside and outside a limit of a range, as a share of its half-width."""


def pass_chances(criterion: Criterion, finding: Finding, *, lower_is_query: bool = False) -> tuple[PassChance, ...]:
    """Chance of `met` by the estimate, in this design, for methods truly at and near the bound.

    A bound with one end: true values of 0.75, 1 and 1.25 times the bound. A range: the true
    mean at the limit nearer to the estimate, and a quarter of the half-width inside and
    outside it, with the scatter observed. Empty where the finding does not say how it scatters.
    """
    if finding.sampling is None or finding.value is None:
        return ()
    low, high = (None if lower_is_query else criterion.low), criterion.high
    truths = _truths(low, high, finding.value)
    foreseen = ((words, truth, _chance(truth, finding.sampling, low, high)) for words, truth in truths)
    return tuple(
        PassChance(truth=words, value=truth, chance=chance) for words, truth, chance in foreseen if chance is not None
    )


def with_all_levels(criteria: Sequence[Criterion], judgements: Sequence[Judgement]) -> tuple[Judgement, ...]:
    """Adds, where one bound holds at several levels, the chance that all of them pass: every level must be met.

    For the true value nearest to safety (0.75 of the bound, a quarter of the half-width
    inside the limit), with levels taken as independent. Left out where a level has no
    chance of its own, or where the levels lie near different limits of a range.
    """
    groups: dict[tuple[object, ...], list[int]] = {}
    for i, each in enumerate(criteria):
        groups.setdefault((each.kind, each.study, each.finding, each.source, each.low, each.high), []).append(i)
    told = list(judgements)
    for members in groups.values():
        safest = [judgements[i].worth[0] for i in members if judgements[i].worth]
        if len(members) < 2 or len(safest) < len(members) or len({each.truth for each in safest}) > 1:
            continue
        together = replace(
            safest[0],
            truth=f"{safest[0].truth}, all {len(members)} levels together",
            chance=math.prod(each.chance for each in safest),
        )
        for i in members:
            told[i] = replace(told[i], worth=(*told[i].worth, together))
    return tuple(told)


def _chance(truth: float, sampling: Sampling, low: float | None, high: float | None) -> float | None:
    """None for a true value that cannot be (a spread of 0) and a scatter that is not fully known."""
    from validate.stats.design import pass_probability

    try:
        return pass_probability(
            truth,
            kind=sampling.kind,
            low=low,
            high=high,
            df=sampling.df,
            se=sampling.se,
            shares=sampling.shares,
            dfs=sampling.dfs,
            floors=sampling.floors,
        )
    except ValueError:
        return None


def _truths(low: float | None, high: float | None, estimate: float) -> Iterator[tuple[str, float]]:
    if low is None or high is None:
        bound = high if low is None else low
        for multiple in MULTIPLES:
            yield f"{multiple:g} of the bound" if multiple != 1 else "at the bound", multiple * bound
        return
    step = QUARTER * (high - low) / 2
    upper = abs(high - estimate) <= abs(estimate - low)
    name, limit, inwards = ("upper", high, -step) if upper else ("lower", low, step)
    yield f"true mean a quarter of the half-width inside the {name} limit", limit + inwards
    yield f"true mean at the {name} limit", limit
    yield f"true mean a quarter of the half-width outside the {name} limit", limit - inwards
