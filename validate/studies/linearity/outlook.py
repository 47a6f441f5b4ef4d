"""How the deviations of a linearity study would scatter in the planned design."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from validate.studies.contract import PlanInput
from validate.studies.linearity.settings import FEWEST_LEVELS, SET_POINTS, LinearitySettings, declared_levels
from validate.vocabulary.bench import Foresight, Outlook
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.finding import Sampling

USUAL_RSD_PERCENT = 3.0
"""Of readings of standards, supposed where neither the protocol's plan nor a variance function says (an own choice)."""
MOST_REPLICATES = 60


@dataclass(frozen=True)
class Arrangement:
    """Levels (0 included in `points`), replicates on each day, days; γ between days over within."""

    levels: tuple[str, ...]
    points: int
    replicates: int
    days: int
    gamma: float

    @property
    def by_day(self) -> bool:
        return self.days > 1

    @property
    def size(self) -> int:
        return self.days if self.by_day else self.replicates

    def at(self, size: int) -> Arrangement:
        """With more or fewer days, or replicates where there is one day."""
        return replace(self, days=size) if self.by_day else replace(self, replicates=size)

    def law(self, rsd_percent: float) -> Outlook:
        """The deviation of one level in percent; its limits rest on what the evaluation will take."""
        if self.by_day:
            se = rsd_percent * math.sqrt(self.gamma + 1 / self.replicates) / math.sqrt(self.days)
            df, n = self.days - 1, self.days * self.replicates
        else:
            se, n = rsd_percent / math.sqrt(self.replicates), self.replicates
            df = self.points * (self.replicates - 1) if self.replicates > 1 else self.points - 2
        if df < 1:
            raise ValueError("one day, or two points, tell nothing of the scatter")
        return Outlook(sampling=Sampling(kind="mean", se=se, df=df), n=n, groups=self.days if self.by_day else None)


def arrangement_of(job: PlanInput) -> Arrangement:
    settings: LinearitySettings = job.settings  # type: ignore[assignment]
    design = settings.design
    gamma = job.assumed.variance_ratio
    points = len(dict.fromkeys(design.levels))
    return Arrangement(declared_levels(settings), points, max(1, design.replicates), design.days or 1, gamma)


def foresights(job: PlanInput) -> tuple[Foresight, ...]:
    """One for each criterion on the deviation of a level; the largest one has no law of its own."""
    settings: LinearitySettings = job.settings  # type: ignore[assignment]
    arrangement = arrangement_of(job)
    return tuple(
        _foresight(job, arrangement, criterion)
        for criterion in job.criteria
        if criterion.finding == "deviation" and criterion.level is not None and settings.form != SET_POINTS
    )


def _foresight(job: PlanInput, arrangement: Arrangement, criterion: Criterion) -> Foresight:
    rsd, whence = rsd_at(job, float(criterion.level or 0))
    return Foresight(
        finding=criterion.finding,
        level=criterion.level,
        size=arrangement.size,
        sized="days" if arrangement.by_day else "readings at the level",
        at=lambda size: arrangement.at(size).law(rsd),
        assumed=f"readings scatter with {rsd:.3g} % RSD on one day ({whence})",
    )


def rsd_at(job: PlanInput, level: float) -> tuple[float, str]:
    """RSD of single readings supposed at a level above 0, and where it comes from."""
    settings: LinearitySettings = job.settings  # type: ignore[assignment]
    if settings.variance_function is not None:
        function = settings.variance_function
        return math.hypot(100 * function.constant / level, function.relative_percent), "the declared variance function"
    if job.assumed.rsd_percent is not None:
        return job.assumed.rsd_percent, "as the protocol assumes"
    return USUAL_RSD_PERCENT, "assumed; write plan: {assume: {rsd_percent: …}} for your own"


def told(job: PlanInput) -> Iterator[str]:
    """What the design can and cannot decide."""
    settings: LinearitySettings = job.settings  # type: ignore[assignment]
    if settings.form == SET_POINTS:
        yield "A record of set points shows whether readings stay where they were, not whether a line is straight."
        return
    arrangement = arrangement_of(job)
    if len(arrangement.levels) < FEWEST_LEVELS:
        yield f"Fewer than {FEWEST_LEVELS} levels above 0: `largest_deviation` gets no verdict."
    if arrangement.replicates * arrangement.days == 1:
        yield "Levels that are read once: lack of fit and equal scatter cannot be tested."
    for criterion in job.criteria:
        if criterion.finding == "largest_deviation" and criterion.high and arrangement.levels:
            yield _on_largest(job, arrangement, criterion)


def _on_largest(job: PlanInput, arrangement: Arrangement, criterion: Criterion) -> str:
    chance = _chance_of_all(job, arrangement, criterion)
    what = "day" if arrangement.by_day else "reading"
    rsd, whence = rsd_at(job, float(min(arrangement.levels, key=float)))
    supposed = f"readings at the lowest level scatter with {rsd:.3g} % RSD ({whence})"
    words = (
        f"A straight line: all {len(arrangement.levels)} levels are found within ±{criterion.high:g} % with a chance "
        f"of {100 * chance:.0f} % (the curve between them not counted); {supposed}."
    )
    wanted = job.assumed.power
    enough = next(
        (
            size
            for size in range(2, MOST_REPLICATES + 1)
            if _chance_of_all(job, arrangement.at(size), criterion) >= wanted
        ),
        None,
    )
    if enough is None:
        return f"{words} No number of {what}s up to {MOST_REPLICATES} gives {100 * wanted:.0f} %."
    return f"{words} {enough} {what}s at each level give {100 * wanted:.0f} % or more."


def _chance_of_all(job: PlanInput, arrangement: Arrangement, criterion: Criterion) -> float:
    """Product over the levels, none of which deviates: the scatter of levels counts as independent."""
    from validate.stats.design import pass_probability

    by = "interval" if criterion.judge_by.value == "interval" else "estimate"
    bound, chance = float(criterion.high or 0), 1.0
    for level in arrangement.levels:
        try:
            law = arrangement.law(rsd_at(job, float(level))[0]).sampling
        except ValueError:
            return 0.0
        chance *= pass_probability(0.0, kind="mean", low=-bound, high=bound, se=law.se, df=law.df, by=by)
    return chance
