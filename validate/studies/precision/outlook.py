"""How the figures of a precision study would scatter in the planned design."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from math import prod

from validate.studies.contract import PlanInput
from validate.studies.precision.settings import PrecisionSettings
from validate.vocabulary.bench import Foresight, Outlook
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.finding import Sampling

WITHIN = ("s_r", "rsd_r", "r", "s_r_to_claim")
NOT_FORESEEN = ("mean", "s_between")


@dataclass(frozen=True)
class Planned:
    """Numbers of the design: outer groups, inner groups by factor, results in each innermost group."""

    kind: str
    outer: int
    inner: tuple[int, ...]
    replicates: int
    sized: str

    @property
    def n(self) -> int:
        return self.outer * prod(self.inner) * self.replicates


def foresights(job: PlanInput, settings: PrecisionSettings, planned: Planned) -> tuple[Foresight, ...]:
    """One for each criterion of the study whose estimate has a known law; none for sums of crossed components."""
    made = (_foresight(job, criterion, planned) for criterion in job.criteria)
    return tuple(each for each in made if each is not None)


def _foresight(job: PlanInput, criterion: Criterion, planned: Planned) -> Foresight | None:
    gamma, name = job.assumed.variance_ratio, criterion.finding
    law: Callable[[Planned], Outlook]
    if name in WITHIN or name.startswith("horrat_r-"):
        law, assumed = _within, ""
    elif name in NOT_FORESEEN or planned.kind == "crossed":
        return None
    else:
        law = partial(_sum, gamma=gamma)
        assumed = f"each further component {gamma:g} × the variance of repetition (assumed)"
    return Foresight(
        finding=name,
        level=criterion.level,
        size=planned.outer,
        sized=planned.sized,
        at=lambda size: law(replace(planned, outer=size)),
        assumed=assumed,
    )


def _within(planned: Planned) -> Outlook:
    """Repeatability: pooled within the innermost groups."""
    cells = planned.outer * prod(planned.inner)
    df = cells * (planned.replicates - 1)
    if df < 1:
        raise ValueError("results that are not repeated have no repeatability")
    return Outlook(sampling=Sampling(kind="scaled_chi", df=df), n=planned.n, groups=planned.outer)


def _sum(planned: Planned, *, gamma: float) -> Outlook:
    """Sum of the components: two terms for one factor, three for one inside another.

    With mean squares MS_o, MS_i, MS_w of a outer groups of b inner groups of n results:
    s² = MS_o/(b·n) + (1 − 1/b)·MS_i/n + (1 − 1/n)·MS_w.
    """
    if planned.outer < 2 or planned.replicates < 2:
        raise ValueError("two groups and two results in each are needed")
    n, b = planned.replicates, prod(planned.inner)
    within = (1 - 1 / n, planned.outer * b * (n - 1), 1 / (1 - 1 / n))
    if not planned.inner:
        terms = [(gamma + 1 / n, planned.outer - 1, 0.0), within]
    elif b < 2:
        raise ValueError("two inner groups in each outer one are needed")
    else:
        inner = ((1 - 1 / b) * (gamma + 1 / n), planned.outer * (b - 1), 1 / (1 - 1 / b))
        terms = [(gamma + (gamma + 1 / n) / b, planned.outer - 1, 0.0), inner, within]
    sampling = Sampling(
        kind="scaled_chi_sum",
        shares=tuple(share for share, _, _ in terms),
        dfs=tuple(float(df) for _, df, _ in terms),
        floors=tuple(floor for _, _, floor in terms[1:]),
    )
    return Outlook(sampling=sampling, n=planned.n, groups=planned.outer)
