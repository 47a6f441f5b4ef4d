"""The bench plan of a comparison: every sample with both, side by side in one run."""

from __future__ import annotations

import math
from collections.abc import Iterator

from validate.studies.contract import PlanInput
from validate.studies.lot_comparison.settings import LotComparisonSettings
from validate.vocabulary.bench import Entry, Foresight, Outlook, Position, StudyPlan
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.finding import Sampling

USUAL_SAMPLES = 8
USUAL_RSD_PERCENT = 10.0
"""Supposed when the protocol states no spread (an own choice)."""


def plan(job: PlanInput) -> StudyPlan:
    """One position for each sample, replicate and side."""
    settings: LotComparisonSettings = job.settings  # type: ignore[assignment]
    return StudyPlan(
        positions=tuple(_positions(job, settings)),
        entries=tuple(_entries(job, settings)),
        steps=(
            "Take native samples that cover the declared levels. Mix each well and divide it, one portion for either "
            f"{settings.factor}.",
            f"Measure both portions of a sample in one run, in the order below: the {settings.factor}s alternate at "
            "random, so that drift does not look like a difference.",
            f"Keep everything else alike: calibration, solvent, other lots. Only the {settings.factor} changes.",
        ),
        records=(
            f"{settings.factor} of every result, as written in the protocol: {settings.new} or {settings.current}",
            "run, day, instrument and the lots of everything else",
            "reading as shown, with its < or n.d.; never 0 in the place of either",
            "control material and reagent blank with both, as further rows (column what: control, blank)",
        ),
        foresights=tuple(_foresights(job, settings)),
        told=tuple(_told(settings)),
    )


def _samples(settings: LotComparisonSettings) -> int:
    return settings.design.samples or USUAL_SAMPLES


def _positions(job: PlanInput, settings: LotComparisonSettings) -> Iterator[Position]:
    number, replicates = 0, settings.design.replicates or 1
    for level in settings.design.levels or (None,):
        for _ in range(_samples(settings)):
            number += 1
            for side in (settings.current, settings.new):
                for replicate in range(1, replicates + 1):
                    at = "" if level is None else f", about {level} {job.method.unit}"
                    cells = {"sample": f"S-{number:02d}", settings.factor: side}
                    cells |= {} if level is None else {"level": level}
                    cells |= {"replicate": str(replicate)} if replicates > 1 else {}
                    yield Position(
                        label=f"sample S-{number:02d}{at}, {settings.factor} {side}",
                        level=level,
                        replicate=replicate,
                        cells=cells,
                    )


def _entries(job: PlanInput, settings: LotComparisonSettings) -> Iterator[Entry]:
    yield Entry(role="sample", filled="proposed")
    if settings.design.levels:
        yield Entry(role="level", filled="proposed")
    yield Entry(role=settings.factor, filled="plan")
    if (settings.design.replicates or 1) > 1:
        yield Entry(role="replicate", filled="plan")
    tops = [float(level) for level in settings.design.levels] + [job.method.scope_to or 0]
    high = 2 * max(tops) if max(tops) > 0 else None
    yield Entry(role="result", low=min(0.0, job.method.floor or 0.0), high=high)
    if settings.group_means:
        yield Entry(role="group")
    yield Entry(role="run")


def _foresights(job: PlanInput, settings: LotComparisonSettings) -> Iterator[Foresight]:
    for criterion in job.criteria:
        if criterion.finding == settings.primary:
            yield _foresight(job, settings, criterion)


def _foresight(job: PlanInput, settings: LotComparisonSettings, criterion: Criterion) -> Foresight:
    s, whence = _spread(job, settings, criterion)
    levels = 1 if settings.judged_by_level else max(1, len(settings.design.levels))
    scale = 100 if settings.is_ratio else 1

    def at(size: int) -> Outlook:
        pairs = size * levels
        if settings.is_shift:
            sampling = Sampling(kind="mean", se=scale * s / math.sqrt(pairs), df=settings.spread.df)
        elif pairs < 2:
            raise ValueError("one pair has no scatter")
        else:
            sampling = Sampling(kind="mean", se=scale * s / math.sqrt(pairs), df=pairs - 1)
        return Outlook(sampling=sampling, n=pairs)

    word = "pairs at the level" if settings.judged_by_level and settings.design.levels else "pairs"
    return Foresight(
        finding=criterion.finding, level=criterion.level, size=_samples(settings), sized=word, at=at, assumed=whence
    )


def _spread(job: PlanInput, settings: LotComparisonSettings, criterion: Criterion) -> tuple[float, str]:
    """Standard deviation of one difference that is supposed, and where it comes from."""
    if settings.s_of_difference is not None:
        return settings.s_of_difference, f"repeatability: {settings.spread.source}"
    known = job.assumed.rsd_percent
    rsd = known if known is not None else USUAL_RSD_PERCENT
    whence = "as the protocol assumes" if known is not None else "assumed; write spread: {rsd_percent: …} for your own"
    single = rsd / 100
    if not settings.is_ratio:
        single *= float(criterion.level or job.method.limit or job.method.scope_to or 1)
    return single * math.sqrt(2 / (settings.design.replicates or 1)), f"RSD of single results {rsd:g} % ({whence})"


def _told(settings: LotComparisonSettings) -> Iterator[str]:
    if settings.design.samples is None:
        yield f"The protocol does not say how many samples; {USUAL_SAMPLES} are taken. Write design: samples."
    if settings.is_shift:
        yield "Shift detection finds large shifts in few pairs; it does not prove that two lots are equal."
    if len(settings.design.levels) > 1 and not settings.is_shift and settings.judged_by_level:
        yield "Every level has to be shown by itself: each needs its samples."
