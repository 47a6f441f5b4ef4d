"""The plan of a trial's organiser: every portion that is sent, coded, in random order within a laboratory."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

from validate.stats.interlaboratory import LARGEST_SHARE
from validate.stats.intervals import Term, mls_limits, t_quantile
from validate.studies.collaborative_trial.kinds import MINIMUM_LABORATORIES
from validate.studies.collaborative_trial.settings import BINARY, SPLIT, CollaborativeTrialSettings, Design
from validate.studies.collaborative_trial.words import counted
from validate.studies.contract import PlanInput
from validate.vocabulary.bench import Entry, Position, StudyPlan, bounded

USUAL_REPLICATES = 2
USUAL_PORTIONS = 12
"""Test portions of each laboratory at a level of a binary trial (common practice, no source)."""
SAMPLES = ("X", "Y")


def plan(job: PlanInput) -> StudyPlan:
    """One position for each result asked for; numbers that the protocol leaves out are taken and told."""
    settings: CollaborativeTrialSettings = job.settings  # type: ignore[assignment]
    design = settings.design
    return StudyPlan(
        positions=bounded(_positions(job, design)),
        entries=tuple(_entries(job, design)),
        day_word="laboratory" if design.runs is None else "laboratory and run",
        steps=tuple(_steps(design)),
        records=(
            "who received which code; the list stays with the organiser until all results are in",
            "how the units of every material were made alike, and the study that shows it",
            "what a laboratory did otherwise than the method asks",
            "result as reported, with its < or n.d.; never 0 in the place of either",
        ),
        told=tuple(_told(design)),
    )


def _laboratories(design: Design) -> int:
    return design.laboratories or MINIMUM_LABORATORIES


def _results(design: Design) -> int:
    return design.replicates or (USUAL_PORTIONS if design.kind == BINARY else USUAL_REPLICATES)


def _positions(job: PlanInput, design: Design) -> Iterator[Position]:
    runs = design.runs or 1
    for laboratory, run in product(range(1, _laboratories(design) + 1), range(1, runs + 1)):
        block = (laboratory - 1) * runs + run
        for level in design.levels:
            cells = {"laboratory": str(laboratory), "level": level}
            if design.runs is not None:
                cells["run"] = str(run)
            what = f"laboratory {laboratory}, material of level {level} {job.method.unit}"
            if design.kind == SPLIT:
                for sample in SAMPLES:
                    yield Position(
                        day=block, label=f"{what}, sample {sample}", level=level, cells={**cells, "sample": sample}
                    )
                continue
            for replicate in range(1, _results(design) + 1):
                yield Position(
                    day=block,
                    label=f"{what}, portion {replicate}",
                    level=level,
                    replicate=replicate,
                    cells={**cells, "replicate": str(replicate)},
                )


def _entries(job: PlanInput, design: Design) -> Iterator[Entry]:
    yield Entry(role="laboratory", filled="proposed")
    yield Entry(role="level", filled="plan")
    if design.kind == SPLIT:
        yield Entry(role="sample", filled="plan")
    elif design.runs is not None:
        yield Entry(role="run", filled="proposed")
    if design.kind != SPLIT:
        yield Entry(role="replicate", filled="plan")
    if design.kind == BINARY:
        yield Entry(role="positive", low=0, high=1)
    else:
        yield Entry(role="result", low=min(0.0, job.method.floor or 0.0))


def _steps(design: Design) -> Iterator[str]:
    yield "Show beforehand that the units of every material are alike (a study of homogeneity), and keep some aside."
    yield "Mark every portion with its code alone and send each laboratory its own; levels stay with the organiser."
    if design.runs is not None:
        yield "The portions of a run are measured together; runs of one laboratory on different days or calibrations."
    if design.kind == SPLIT:
        yield "One result of each sample: laboratories are not told that the two samples resemble each other."
    else:
        yield "Ask for single results in the order of the codes under repeatability; no averages, no results left out."
    yield "Write the results under laboratory and level as they come back; ask before, not after, the evaluation."


def _told(design: Design) -> Iterator[str]:
    laboratories, results = _laboratories(design), _results(design)
    if design.laboratories is None:
        yield f"The protocol does not say how many laboratories; {laboratories} are taken. Write design: laboratories."
    if design.replicates is None and design.kind != SPLIT:
        yield f"The protocol does not say how many results; {results} are taken. Write design: replicates."
    if laboratories < MINIMUM_LABORATORIES:
        yield f"With fewer than {MINIMUM_LABORATORIES} laboratories there is no verdict on reproducibility."
    if laboratories < 2 or (results < 2 and design.kind != SPLIT):
        return
    if design.kind == BINARY:
        half = t_quantile(0.975, laboratories - 1) * math.sqrt(0.25 / (laboratories * results))
        yield f"Laboratories that are alike give a probability of detection near 0.5 to about ±{half:.2g} (95 %)."
        return
    if design.runs is None:
        low, high = _factors(laboratories, 1 if design.kind == SPLIT else results)
        yield (
            f"Where laboratories scatter as much as results within one, the 95 % limits of s_R from "
            f"{counted(laboratories, 'laboratory')} reach from {low:.2f} to {high:.2f} times its value."
        )
    most = math.floor(LARGEST_SHARE * laboratories + 1e-9)
    yield f"Tests for outliers would take at most {counted(most, 'laboratory')} out of a level."


def _factors(laboratories: int, results: int) -> tuple[float, float]:
    """Expected limits over s_R for s_L = s_r = 1; a split level has as many degrees of freedom within as between."""
    between = laboratories - 1
    if results == 1:
        terms = (Term(1.5, between), Term(0.5, between))
    else:
        terms = (Term(1 + 1 / results, between), Term(1 - 1 / results, laboratories * (results - 1)))
    limits = mls_limits(terms, 0.95)
    return limits.low / math.sqrt(2), limits.high / math.sqrt(2)
