"""The bench plan of a method comparison: which samples, what is written down, what the design can decide."""

from __future__ import annotations

import math
from collections.abc import Iterator

from validate.studies.contract import PlanInput
from validate.studies.method_comparison.settings import FEWEST, MethodComparisonSettings
from validate.vocabulary.bench import Entry, Foresight, Outlook, Position, StudyPlan, bounded
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.finding import Sampling

USUAL_RSD_PERCENT = 8.0
"""Of single results of either method, supposed where the protocol's plan does not say (an own choice)."""


def plan(job: PlanInput) -> StudyPlan:
    """Every sample and reading as one position."""
    settings: MethodComparisonSettings = job.settings  # type: ignore[assignment]
    return StudyPlan(
        positions=bounded(_positions(settings)),
        entries=tuple(_entries(settings)),
        steps=tuple(_steps(job, settings)),
        records=tuple(_records(settings)),
        cautions=("Naturally contaminated samples may hold more than the limit: gloves, no dust, waste kept apart.",),
        foresights=tuple(_foresight(job, settings, each) for each in job.criteria if _is_foreseen(each)),
        told=tuple(_told(job, settings)),
    )


def _positions(settings: MethodComparisonSettings) -> Iterator[Position]:
    design = settings.design
    days = max(1, design.days or 1)
    for number in range(1, design.samples + 1):
        day = 1 + (number - 1) % days
        for replicate in range(1, design.replicates + 1):
            cells = {"sample": f"M{number:03d}"}
            cells |= {"replicate": str(replicate)} if design.replicates > 1 else {}
            cells |= {"day": str(day)} if design.days else {}
            yield Position(day=day, label=f"sample M{number:03d}", replicate=replicate, cells=cells)


def _entries(settings: MethodComparisonSettings) -> Iterator[Entry]:
    yield Entry(role="sample", filled="proposed")
    if settings.design.replicates > 1:
        yield Entry(role="replicate", filled="plan")
    if settings.design.days:
        yield Entry(role="day", filled="proposed")
    yield Entry(role="reference", low=0.0)
    yield Entry(role="found", low=0.0)
    yield from (Entry(role=name) for name in ("analyst", "instrument", "lot"))


def _steps(job: PlanInput, settings: MethodComparisonSettings) -> Iterator[str]:
    yield f"Choose {settings.design.samples} samples spread over the range, natural ones first; spikes fill gaps."
    if job.method.limit is not None:
        yield f"Let a third of them lie near the limit of {job.method.limit:g} {job.method.unit}, on both sides of it."
    yield "Divide each homogenised sample in two, one part for each method, measured close in time, both blind."
    yield "Measure in the order below with this method; do not repeat a sample because its results disagree."


def _records(settings: MethodComparisonSettings) -> Iterator[str]:
    yield f"reference method ({settings.reference}): laboratory, its uncertainty, whether corrected for recovery"
    yield "where each sample comes from: natural, spiked, left from a round; how it was homogenised and divided"
    yield "results as read, with their `<` or `n.d.`; never 0 in the place of either"
    yield "anything unusual at once: a sample can be left out later only with a reason"


def _is_foreseen(criterion: Criterion) -> bool:
    return criterion.finding == "method_bias_percent" and criterion.level is not None


def _foresight(job: PlanInput, settings: MethodComparisonSettings, criterion: Criterion) -> Foresight:
    design = settings.design
    given = job.assumed.rsd_percent
    rsd = USUAL_RSD_PERCENT if given is None else given

    def at(samples: int) -> Outlook:
        if samples < 10:
            raise ValueError("a line needs 10 samples")
        se = rsd * math.sqrt(2 / design.replicates / samples) * _leverage(job, float(criterion.level or 0))
        return Outlook(sampling=Sampling(kind="mean", se=se, df=samples - 2), n=samples)

    whence = "supposed" if given is None else "as the protocol says"
    return Foresight(
        finding=criterion.finding,
        level=criterion.level,
        size=design.samples,
        sized="samples",
        at=at,
        assumed=f"single results of either method scatter with {rsd:g} % RSD at the level ({whence})",
    )


def _leverage(job: PlanInput, level: float) -> float:
    """Factor on the error of a mean at a level of a line through samples spread evenly over the scope."""
    low, high = job.method.scope_from, job.method.scope_to
    if low is None or high is None:
        return 1.0
    return math.sqrt(1 + 12 * ((level - (low + high) / 2) / (high - low)) ** 2)


def _told(job: PlanInput, settings: MethodComparisonSettings) -> Iterator[str]:
    n = settings.design.samples
    if n < FEWEST:
        yield f"{n} samples give figures and no verdict: {FEWEST} are needed, 40 are common practice."
    elif n >= 3:
        half = 1.96 * math.sqrt(1 / n + 1.96**2 / (2 * (n - 1)))
        yield f"With {n} samples each limit of agreement is known to about ± {half:.2f} SD of the differences."
    yield "A bias that both methods share cannot be found by any number of samples."
