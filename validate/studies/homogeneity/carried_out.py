"""The design as planned and as carried out, and the limits of use that follow."""

from __future__ import annotations

import numpy as np

from validate.studies.contract import StudyInput
from validate.studies.homogeneity.kinds import FEWEST_UNITS
from validate.studies.homogeneity.samples import Samples
from validate.studies.homogeneity.settings import CONSEQUENCE_WORDS, HomogeneitySettings
from validate.vocabulary.evaluation import DesignFact, StudyResult, Varied


def design_facts(settings: HomogeneitySettings, samples: Samples) -> tuple[DesignFact, ...]:
    design, first = settings.design, samples.first
    _, sizes = np.unique(first.units.astype(str), return_counts=True)
    low, high = int(sizes.min()), int(sizes.max())
    planned = FEWEST_UNITS if design.units is None else design.units
    occasions = f"{len(samples.occasions)}, up to day {samples.occasions[-1].days:g}"
    period = settings.stability
    return (
        DesignFact(
            name="units",
            planned=f"at least {FEWEST_UNITS}" if design.units is None else str(design.units),
            carried_out=str(sizes.size),
            short=sizes.size < planned,
        ),
        DesignFact(
            name="results for each unit",
            planned=str(design.replicates),
            carried_out=str(low) if low == high else f"{low} to {high}",
            short=low < design.replicates,
        ),
        DesignFact(
            name="occasions",
            planned="one" if period is None else f"two or more over {period.period:g} days",
            carried_out=occasions,
            short=period is not None and len(samples.occasions) < 2,
        ),
        DesignFact(
            name="when units are not alike",
            planned=CONSEQUENCE_WORDS[settings.when_not_sufficient],
            carried_out="see the conclusion",
        ),
    )


def varied(samples: Samples) -> tuple[Varied, ...]:
    return (
        Varied(factor="units", state="varied", count=len(samples.first.labels)),
        Varied(
            factor="occasions",
            state="varied" if samples.later else "constant",
            count=len(samples.occasions),
        ),
        Varied(factor="filling order", state="not recorded" if samples.first.order is None else "varied"),
        Varied(factor="order of measurement", state="not recorded"),
    )


def limits_of_use(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """Limits that follow from the design."""
    limits = [
        "It holds for portions of the size that was measured: smaller portions scatter more.",
        "It holds for this σ_pt: a stricter one asks again.",
    ]
    if any(each.factor == "occasions" and each.state == "constant" for each in result.varied):
        limits.append("One occasion only: nothing is said on stability.")
    elif result.finding("stability_change") is not None:
        limits.append("A drift of the method between occasions looks like a change of the material.")
    limits.append("It says nothing on transport and on storage at the participants.")
    return tuple(limits)
