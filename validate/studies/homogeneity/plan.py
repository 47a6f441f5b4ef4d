"""The bench plan of a homogeneity study: every unit, every replicate, in random order."""

from __future__ import annotations

from collections.abc import Iterator

from validate.stats.homogeneity import iupac_factors
from validate.studies.contract import PlanInput
from validate.studies.homogeneity.kinds import FEWEST_UNITS, SHARE
from validate.studies.homogeneity.settings import CONSEQUENCE_WORDS, HomogeneitySettings
from validate.vocabulary.bench import Entry, Position, StudyPlan, bounded


def plan(job: PlanInput) -> StudyPlan:
    """One position for each replicate of each unit, all in one session; stability stands in the steps."""
    settings: HomogeneitySettings = job.settings  # type: ignore[assignment]
    units = settings.design.units or FEWEST_UNITS
    method = job.method
    return StudyPlan(
        positions=bounded(_positions(settings, units)),
        entries=(
            Entry(role="unit", filled="plan"),
            Entry(role="replicate", filled="plan"),
            Entry(role="order", filled="bench"),
            Entry(role="days", filled="proposed"),
            Entry(role="result", low=min(0.0, method.floor or 0.0)),
        ),
        steps=tuple(_steps(settings, units)),
        records=(
            "place of each unit in the filling order",
            "how the unit was mixed before the portions were taken",
            "reading as shown, with its < or n.d.; never 0 in the place of either",
            "anything unusual at once: a result can be left out later only with a reason",
        ),
        told=tuple(_told(settings, units)),
    )


def _positions(settings: HomogeneitySettings, units: int) -> Iterator[Position]:
    for unit in range(1, units + 1):
        for replicate in range(1, settings.design.replicates + 1):
            yield Position(
                label=f"unit {unit}, portion {replicate}",
                replicate=replicate,
                cells={"unit": str(unit), "replicate": str(replicate), "days": "0"},
            )


def _steps(settings: HomogeneitySettings, units: int) -> Iterator[str]:
    yield f"Choose {units} units at random from the whole batch, after filling and closing; note the place of each."
    yield f"Mix each unit as participants will and take {settings.design.replicates} portions of the method's size."
    yield "Measure all portions in the order below, in one session; never the portions of a unit in a row."
    if settings.stability is not None:
        yield (
            f"Keep units aside as participants will keep them, and measure at least 3 of them again by day "
            f"{settings.stability.period:g}; write the days since this session into the table."
        )


def _told(settings: HomogeneitySettings, units: int) -> Iterator[str]:
    if units >= 2 and settings.design.replicates >= 2:
        replicates = settings.design.replicates
        f1, f2 = iupac_factors(units, replicates=replicates)
        largest = (f1 * SHARE**2 + f2 * 0.5**2) ** 0.5
        yield (
            f"With s_an at half of σ_pt, an s_sam between {SHARE}·σ_pt and {largest:.2g}·σ_pt shows nothing: "
            "a more precise method or more replicates make that gap narrower."
        )
    yield f"Decided beforehand for units that are not alike: {CONSEQUENCE_WORDS[settings.when_not_sufficient]}."
