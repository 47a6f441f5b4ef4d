"""How the figures of a recovery study would scatter in the planned design."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from validate.studies.contract import PlanInput
from validate.studies.recovery.settings import RecoverySettings
from validate.vocabulary.bench import Foresight, Outlook
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.finding import Sampling

USUAL_RSD_PERCENT = 10.0
"""Supposed when the protocol gives neither an RSD nor a bound on one (an own choice)."""
HALF = 0.5
WITHIN = ("rsd_r", "s_r")
BETWEEN = ("rsd_intermediate", "s_intermediate")
MEANS = ("mean_recovery", "bias_percent", "bias")


@dataclass(frozen=True)
class Arrangement:
    """Groups (days, or analysts on one day) and results in each."""

    groups: int
    each: int
    sized: str

    @property
    def size(self) -> int:
        return self.each if self.groups == 1 else self.groups

    def at(self, size: int) -> Arrangement:
        """The same arrangement with more or fewer days, or results when there is one session."""
        return Arrangement(1, size, self.sized) if self.groups == 1 else Arrangement(size, self.each, self.sized)


def foresights(job: PlanInput, settings: RecoverySettings) -> tuple[Foresight, ...]:
    """One for each criterion of the study whose estimate has a known law."""
    arrangement = _arrangement(settings)
    made = (_foresight(job, settings, criterion, arrangement) for criterion in job.criteria)
    return tuple(each for each in made if each is not None)


def _arrangement(settings: RecoverySettings) -> Arrangement:
    design = settings.design
    if design.days and design.days > 1:
        return Arrangement(design.days, design.replicates, "days")
    if not design.days and (design.analysts or 1) > 1:
        return Arrangement(design.analysts, max(1, design.replicates // design.analysts), "analysts")
    return Arrangement(1, design.replicates, "results at the level")


def _foresight(
    job: PlanInput, settings: RecoverySettings, criterion: Criterion, arrangement: Arrangement
) -> Foresight | None:
    name = criterion.finding
    gamma = job.assumed.variance_ratio
    if name in WITHIN or name.startswith("horrat_"):
        law, assumed = _within, ""
    elif name in BETWEEN and arrangement.groups > 1:
        law, assumed = _between(gamma), _words_of_gamma(gamma, arrangement)
    elif name in MEANS and criterion.level is not None:
        rsd, whence = _rsd(job, criterion.level)
        unit = float(criterion.level) / 100 if name == "bias" else 1.0
        law = _mean(rsd, gamma, settings.relative_u_of_added_percent, unit)
        assumed = f"RSD of single results on one day {rsd:g} % ({whence})"
        if arrangement.groups > 1:
            assumed += "; " + _words_of_gamma(gamma, arrangement)
    else:
        return None
    return Foresight(
        finding=name,
        level=criterion.level,
        size=arrangement.size,
        sized=arrangement.sized,
        at=lambda size: law(arrangement.at(size)),
        assumed=assumed,
    )


Law = Callable[[Arrangement], Outlook]


def _within(planned: Arrangement) -> Outlook:
    """The pooled spread within groups; of all results when each group has one."""
    n = planned.groups * planned.each
    df = n - planned.groups if planned.each > 1 else n - 1
    if df < 1:
        raise ValueError("one result has no spread")
    return Outlook(sampling=Sampling(kind="scaled_chi", df=df), n=n, groups=planned.groups)


def _between(gamma: float) -> Law:
    def law(planned: Arrangement) -> Outlook:
        groups, each = planned.groups, planned.each
        if groups < 2:
            raise ValueError("one group has no spread between groups")
        if each == 1:
            sampling = Sampling(kind="scaled_chi", df=groups - 1)
        else:
            sampling = Sampling(
                kind="scaled_chi_sum",
                shares=(gamma + 1 / each, 1 - 1 / each),
                dfs=(groups - 1, groups * (each - 1)),
                floors=(1 / (1 - 1 / each),),
            )
        return Outlook(sampling=sampling, n=groups * each, groups=groups)

    return law


def _mean(rsd_percent: float, gamma: float, u_added_percent: float, unit: float) -> Law:
    """Standard error of the mean of group means, with the uncertainty of the added amount; at a recovery near 100 %."""

    def law(planned: Arrangement) -> Outlook:
        groups, each = planned.groups, planned.each
        count = groups if groups > 1 else each
        if count < 2:
            raise ValueError("one result has no spread")
        single = math.sqrt(gamma + 1 / each) if groups > 1 else 1.0
        se = rsd_percent * single / math.sqrt(count)
        u = math.hypot(se, u_added_percent)
        df = (count - 1) * (u / se) ** 4
        return Outlook(sampling=Sampling(kind="mean", se=u * unit, df=df), n=groups * each, groups=groups)

    return law


def _rsd(job: PlanInput, level: str) -> tuple[float, str]:
    """The RSD of single results that is supposed at a level, and where it comes from."""
    if job.assumed.rsd_percent is not None:
        return job.assumed.rsd_percent, "as the protocol assumes"
    for name in ("rsd_r", "rsd_intermediate"):
        criterion = job.criterion(name, level)
        if criterion is not None and criterion.high:
            return HALF * criterion.high, f"half of the bound on {criterion.title or name}; assumed"
    return USUAL_RSD_PERCENT, "assumed; write plan: {assume: {rsd_percent: …}} for your own"


def _words_of_gamma(gamma: float, arrangement: Arrangement) -> str:
    return f"variance between {arrangement.sized} {gamma:g} × that within (assumed)"
