"""What a detection design can decide: the law of its limit, and what counts of samples can prove."""

from __future__ import annotations

import math
from collections.abc import Iterator

from validate.stats.detection import chance_of_detections, detections_needed, proportion
from validate.studies.contract import PlanInput
from validate.studies.detection.settings import (
    FEWEST_BLANKS_OF_CLAIM,
    FEWEST_DAYS,
    FEWEST_TRIALS_OF_CLAIM,
    DetectionSettings,
)
from validate.vocabulary.bench import Foresight, Outlook
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.finding import Sampling
from validate.vocabulary.verdict import JudgeBy

NEEDED = 0.95


def foresights(job: PlanInput) -> tuple[Foresight, ...]:
    """The limit from blanks or low-level samples scatters as its SD: the route by the upper limit of the figure."""
    claim = _claim(job)
    settings: DetectionSettings = job.settings  # type: ignore[assignment]
    sizes = {"blanks": settings.design.blanks, "low-level samples": settings.design.replicates}
    size = sizes.get(settings.lod.by)
    if claim is None or size is None or claim.judge_by is not JudgeBy.INTERVAL:
        return ()
    return (
        Foresight(
            finding="lod",
            level=None,
            size=size,
            sized="blanks" if settings.lod.by == "blanks" else "samples at the low level",
            at=_outlook,
            assumed="the samples near the limit are detected and the blanks are not",
        ),
    )


def told(job: PlanInput) -> Iterator[str]:
    """What the numbers of blanks and samples can and cannot prove."""
    settings: DetectionSettings = job.settings  # type: ignore[assignment]
    design, claim = settings.design, _claim(job)
    if design.blanks < FEWEST_BLANKS_OF_CLAIM:
        yield f"{design.blanks} blanks: a claim needs {FEWEST_BLANKS_OF_CLAIM}, so none can be shown."
    if (design.days or 1) < FEWEST_DAYS:
        yield f"Fewer than {FEWEST_DAYS} days: no verdict on a limit from the scatter of blanks or low-level samples."
    if claim is not None and claim.high is not None and not _reaching(settings, claim.high):
        yield f"No level at or below {claim.high:g} {job.method.unit}: the claim cannot be confirmed."
    if design.levels and design.replicates:
        yield from _on_counts(design.replicates)
    yield "Blanks that read the floor of the display give no limit; the low levels then stand in for them."


def _on_counts(n: int) -> Iterator[str]:
    if n >= FEWEST_TRIALS_OF_CLAIM:
        needed = math.ceil(NEEDED * n - 1e-9)
        passes = {p: chance_of_detections(needed, n, probability=p) for p in (0.98, 0.95, 0.90)}
        words = ", ".join(f"{100 * chance:.0f} % where {100 * p:.0f} % are detected" for p, chance in passes.items())
        yield f"By the estimate {needed} of {n} samples must be detected at the claimed level: passes {words}."
    else:
        yield f"{n} samples at a level: a claim by the estimate needs {FEWEST_TRIALS_OF_CLAIM}."
    needed_by_bound = detections_needed(n)
    if needed_by_bound is None:
        low = 100 * proportion(n, n, level=0.90).low
        yield f"By counting alone {n} of {n} prove no more than {low:.0f} % detected; 59 of 59 prove 95 %."
    else:
        yield f"By counting alone {needed_by_bound} of {n} detected samples prove 95 %."


def _reaching(settings: DetectionSettings, claim: float) -> list[str]:
    return [level for level in settings.design.levels if float(level) <= claim]


def _claim(job: PlanInput) -> Criterion | None:
    return job.criterion("lod", None)


def _outlook(size: int) -> Outlook:
    if size < 2:
        raise ValueError(f"{size} results give no standard deviation")
    return Outlook(sampling=Sampling(kind="scaled_chi", df=float(size - 1)), n=size)
