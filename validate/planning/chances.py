"""What a design can decide: the chance of `met` for methods near a bound, and how many results would suffice."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

from validate.stats.design import pass_probability
from validate.studies.contract import Study
from validate.vocabulary.bench import Assumed, Foresight, Outlook
from validate.vocabulary.evaluation import Criterion, PassChance
from validate.vocabulary.finding import FindingKind

MULTIPLES = (0.5, 0.75, 1.0, 1.25)
"""True values of a figure with an upper bound, as multiples of it."""
GOAL = 0.5
"""A method at half its upper bound should pass: the aim when sizes are looked for (an own choice)."""
QUARTER = 0.25
"""Step inside and outside a limit of a range, as a share of its half-width; the step inside is the aim."""
LARGEST_SIZE = 1000


@dataclass(frozen=True)
class Decision:
    """What the design can decide about one criterion at some levels."""

    criterion: Criterion
    levels: tuple[str, ...]
    chances: tuple[PassChance, ...]
    assumed: str
    never: str
    """Why there will be no verdict at all; empty when there can be one."""
    aim: str
    """The true method that should pass, in words; empty when nothing is foreseen."""
    planned: int
    sufficient: int | None
    """The smallest size with the wanted chance; None when none up to 1000 has it."""
    sized: str
    power: float
    """The chance per criterion that is wanted at the aim."""


def decisions(
    criteria: Iterable[Criterion], foresights: Iterable[Foresight], kind: Study, assumed: Assumed, comparisons: int
) -> tuple[Decision, ...]:
    """One for each criterion, equal ones of several levels together.

    All K comparisons of a study are to pass together with the wanted power, so each is
    planned with 1 − (1 − power)/K.
    """
    power = 1 - (1 - assumed.power) / max(1, comparisons)
    known = {(each.finding, each.level): each for each in foresights}
    merged: dict[object, Decision] = {}
    made: dict[object, Decision] = {}
    for criterion in criteria:
        foresight, finding = known.get((criterion.finding, criterion.level)), kind.finding(criterion.finding)
        same = _alike(criterion, foresight)
        if same not in made:
            made[same] = _decision(criterion, foresight, finding, power)
        levels = () if criterion.level is None else (criterion.level,)
        before = merged.get(same)
        merged[same] = replace(made[same], levels=(*before.levels, *levels) if before else levels)
    return tuple(merged.values())


def _alike(criterion: Criterion, foresight: Foresight | None) -> tuple[object, ...]:
    """Equal for criteria of two levels that differ in nothing else."""
    law = None if foresight is None else (foresight.size, foresight.sized, foresight.assumed, _at(foresight))
    bound = (criterion.kind, criterion.finding, criterion.low, criterion.high, criterion.wording, criterion.judge_by)
    return (*bound, criterion.source, criterion.minimum_n, criterion.minimum_groups, law)


def _at(foresight: Foresight, size: int | None = None) -> Outlook | None:
    try:
        return foresight.at(foresight.size if size is None else size)
    except ValueError:
        return None


def _decision(criterion: Criterion, foresight: Foresight | None, finding: FindingKind | None, power: float) -> Decision:
    if foresight is None:
        return Decision(criterion, (), (), "", "", "", 0, None, "", power)
    low_is_query = finding is not None and finding.lower_bound_is_query
    low = None if low_is_query else criterion.low
    outlook = _at(foresight)
    never = "the design gives no such figure" if outlook is None else _too_few(criterion, finding, outlook)
    chances = tuple(
        PassChance(truth=words, value=truth, chance=chance)
        for words, truth in _truths(low, criterion.high, outlook)
        if (chance := _chance(truth, low, criterion, outlook)) is not None
    )
    aim, goal = _aim(low, criterion.high, outlook)
    sufficient = None
    if goal is not None:
        sufficient = _sufficient(
            lambda size: _reached(_at(foresight, size), goal, low, criterion, finding), power, foresight.size
        )
    return Decision(
        criterion=criterion,
        levels=(),
        chances=() if never else chances,
        assumed=foresight.assumed,
        never=never,
        aim=aim,
        planned=foresight.size,
        sufficient=sufficient,
        sized=foresight.sized,
        power=power,
    )


def _truths(low: float | None, high: float | None, outlook: Outlook | None) -> Iterator[tuple[str, float]]:
    if outlook is None or (low is None and high is None):
        return
    if low is not None and high is not None:
        step = QUARTER * (high - low) / 2
        yield "in the middle", (low + high) / 2
        yield "¼ of the half-width inside", high - step
        yield "at the limit", high
        yield "¼ of the half-width outside", high + step
    elif low is None:
        for multiple in MULTIPLES:
            yield f"at {multiple:g} × the bound" if multiple != 1 else "at the bound", multiple * high
    else:
        for multiple in (1.25, 1.0, 0.75):
            yield f"at {multiple:g} × the bound" if multiple != 1 else "at the bound", multiple * low


def _aim(low: float | None, high: float | None, outlook: Outlook | None) -> tuple[str, float | None]:
    if outlook is None or (low is None and high is None):
        return "", None
    if low is not None and high is not None:
        return "¼ of the half-width inside a limit", high - QUARTER * (high - low) / 2
    if high is not None:
        return "at half the bound", GOAL * high
    return "at 1.25 × the bound", 1.25 * low


def _chance(truth: float, low: float | None, criterion: Criterion, outlook: Outlook | None) -> float | None:
    """None where the rule has no chance that can be computed (a range by the interval of a spread)."""
    if outlook is None:
        return None
    law = outlook.sampling
    by_interval = criterion.judge_by.value == "interval"
    try:
        return pass_probability(
            truth,
            kind=law.kind,
            low=low,
            high=criterion.high,
            df=law.df,
            se=law.se,
            shares=law.shares,
            dfs=law.dfs,
            floors=() if by_interval else law.floors,
            by="interval" if by_interval else "estimate",
        )
    except ValueError:
        return None


def _reached(
    outlook: Outlook | None, goal: float, low: float | None, criterion: Criterion, finding: FindingKind | None
) -> float:
    if outlook is None or _too_few(criterion, finding, outlook):
        return 0.0
    return _chance(goal, low, criterion, outlook) or 0.0


def _sufficient(reached: Callable[[int], float], power: float, planned: int) -> int | None:
    """The smallest size with the wanted chance: doubled from 2 on, then halved in; the chance grows with the size."""
    low, high = 1, max(2, min(planned, LARGEST_SIZE))
    while reached(high) < power:
        low, high = high, 2 * high
        if high > LARGEST_SIZE:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if reached(middle) >= power else (middle, high)
    return high


def _too_few(criterion: Criterion, finding: FindingKind | None, outlook: Outlook) -> str:
    """Why the number of results or groups forbids a verdict; empty when it does not."""
    wanted = (
        ("results", outlook.n, _first(criterion.minimum_n, finding.minimum_n if finding else None)),
        ("groups", outlook.groups, _first(criterion.minimum_groups, finding.minimum_groups if finding else None)),
    )
    return "; ".join(
        f"{needed} {what} are needed, the design has {present if present is not None else 'none'}"
        for what, present, needed in wanted
        if needed is not None and (present is None or present < needed)
    )


def _first(*numbers: int | None) -> int | None:
    return next((number for number in numbers if number is not None), None)
