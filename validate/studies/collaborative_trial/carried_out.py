"""The design as planned and as carried out, what varied, the words of the section, and the limits of use."""

from __future__ import annotations

import numpy as np

from validate.studies.collaborative_trial.context import Context
from validate.studies.collaborative_trial.settings import BINARY, SPLIT, Design
from validate.studies.contract import StudyInput
from validate.vocabulary.evaluation import DesignFact, StudyResult, Varied

KIND_WORDS = {
    "uniform": "repeated results of every laboratory at every level",
    "split": "one result on each of two nearly equal samples (Youden pairs)",
    "binary": "counts of detections of every laboratory at every level",
}


def design_facts(contexts: tuple[Context, ...]) -> tuple[DesignFact, ...]:
    design = contexts[0].settings.design
    measured = [c.level for c in contexts if c.data.values.size]
    labs = [len(c.data.labels) for c in contexts]
    facts = [
        DesignFact(name="arrangement", planned=design.kind, carried_out=KIND_WORDS[design.kind]),
        DesignFact(
            name="levels",
            planned=", ".join(design.levels),
            carried_out=", ".join(measured) or "none",
            short=len(measured) < len(design.levels),
        ),
        _fact("laboratories at each level", design.laboratories, labs),
    ]
    if design.runs is not None:
        facts.append(_fact("runs in each laboratory", design.runs, [n for c in contexts for n in _runs(c)]))
    if design.kind != SPLIT:
        word = "results in each run" if design.runs is not None else "results of each laboratory at a level"
        facts.append(_fact(word, design.replicates, [n for c in contexts for n in _sizes(c, design)]))
    return tuple(facts)


def _runs(context: Context) -> list[int]:
    data = context.data
    return [len(set(data.run[data.laboratories == lab].tolist())) for lab in data.labels]


def _sizes(context: Context, design: Design) -> list[int]:
    data = context.data
    if design.kind == BINARY:
        return [int(n) for n in data.counts()[2]]
    keys = data.laboratories.astype(str) if data.run is None else [
        f"{lab}\x1f{run}" for lab, run in zip(data.laboratories, data.run, strict=True)
    ]  # fmt: skip
    return np.unique(keys, return_counts=True)[1].tolist() if data.values.size else []


def _fact(name: str, planned: int | None, counts: list[int]) -> DesignFact:
    low, high = min(counts, default=0), max(counts, default=0)
    return DesignFact(
        name=name,
        planned="not stated" if planned is None else str(planned),
        carried_out=str(low) if low == high else f"{low} to {high}",
        short=planned is not None and low < planned,
    )


def varied(contexts: tuple[Context, ...]) -> tuple[Varied, ...]:
    labs = sorted({lab for c in contexts for lab in c.data.labels})
    told = [Varied(factor="laboratories", state="varied" if len(labs) > 1 else "constant", count=len(labs))]
    if contexts[0].settings.design.runs is not None:
        told.append(Varied(factor="runs within laboratories", state="varied"))
    else:
        told.append(Varied(factor="days and runs within laboratories", state="not recorded"))
    told.append(Varied(factor="analysts and instruments within laboratories", state="not recorded"))
    return tuple(told)


def limits_of_use(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """Limits that follow from the design."""
    design: Design = job.settings.design  # type: ignore[attr-defined]
    shown = f"{len(design.levels)} {'level' if len(design.levels) == 1 else 'levels'}"
    limits = [
        "Reproducibility holds for laboratories like these, working by this protocol, and for these materials.",
        f"Shown at {shown}; between levels it is an assumption.",
    ]
    if design.kind == SPLIT:
        limits.append(
            "Repeatability rests on two samples that differ a little: the same precision is assumed for both."
        )
    if design.kind == BINARY:
        limits.append(
            "A probability of detection holds for this level and matrix, not for contents between the levels."
        )
    limits.append(
        "Unlike units of the samples are part of these figures; a study of homogeneity says how large a part."
    )
    limits.append("Precision says nothing on trueness or on sampling, which usually adds most.")
    return tuple(limits)
