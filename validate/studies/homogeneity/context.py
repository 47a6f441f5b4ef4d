"""What every finding of the study shares: its frame, σ_pt, and what forbids a verdict."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from validate.stats import homogeneity, horwitz
from validate.studies.contract import StudyInput
from validate.studies.homogeneity.kinds import BY_NAME, FEWEST_UNITS
from validate.studies.homogeneity.samples import Occasion, Samples
from validate.studies.homogeneity.settings import HomogeneitySettings
from validate.vocabulary.finding import Finding, Interval, Rows, Symbol

ISO_13528 = "ISO 13528, Annex B (from memory)"
IUPAC = "IUPAC Harmonized Protocol (2006), Appendix 1 (from memory)"
GUIDE_35 = "ISO Guide 35 (from memory)"
RESOLUTION_SHARE = 0.5


@dataclass(frozen=True)
class Sigma:
    """σ_pt in the method's unit, or why there is none."""

    value: float | None
    words: str
    reason: str = ""


@dataclass(frozen=True)
class Context:
    """The job, its numbers and σ_pt."""

    job: StudyInput
    samples: Samples
    sigma: Sigma

    @property
    def settings(self) -> HomogeneitySettings:
        return self.job.settings  # type: ignore[return-value]

    @property
    def unit(self) -> str:
        return self.job.method.unit

    def rows(self, occasions: Iterable[Occasion]) -> Rows:
        index = [row for occasion in occasions for row in occasion.rows]
        return self.job.table.rows(index)  # type: ignore[arg-type]

    def finding(
        self, name: str, value: float | None, *, occasions: Iterable[Occasion] | None = None, **parts: object
    ) -> Finding:
        unit = BY_NAME[name].unit
        return Finding(
            name=name,
            level=None,
            value=value,
            unit=self.unit if unit == "method" else unit,
            rows=(self.rows(occasions or (self.samples.first,)),),
            **parts,  # type: ignore[arg-type]
        )

    @property
    def blocked_readings(self) -> tuple[str, ...]:
        """Why no figure can carry a verdict: results that are no numbers, or clipped ones."""
        samples, reasons = self.samples, []
        numbers = sum(occasion.values.size for occasion in samples.occasions)
        if len(samples.censored):
            below = len(samples.censored)
            reasons.append(f"{below} of {numbers + below} results are below a limit or not detected")
        if samples.at_floor:
            floor = f"{self.job.method.floor:g}"
            reasons.append(f"{samples.at_floor} of {numbers} results stand at the floor of the reading ({floor})")
        return tuple(reasons)

    def blocked_spread(self, found: homogeneity.Homogeneity) -> tuple[str, ...]:
        """Why the spread between units cannot carry a verdict: nothing scatters, or finer than the reading."""
        resolution = self.job.method.resolution
        if found.components.ss_within == 0 and found.components.ss_between == 0:
            return ("all results are equal: the reading cannot tell units apart",)
        if found.s_an == 0:
            return ("the replicates of every unit are equal: the scatter of the measurement is not known",)
        if resolution and found.s_an < RESOLUTION_SHARE * resolution:
            return (f"the scatter within units is below half a step of the reading ({resolution:g} {self.unit})",)
        repeated = sum(size > 1 for size in found.components.group_sizes)
        if repeated < FEWEST_UNITS <= found.n_units:
            return (f"{repeated} of {found.n_units} units were measured twice or more, {FEWEST_UNITS} are asked for",)
        return ()


def sigma_of(job: StudyInput, mean: float) -> Sigma:
    """σ_pt at the general mean."""
    asked = job.settings.sigma_pt  # type: ignore[attr-defined]
    if asked.value is not None:
        return Sigma(asked.value, f"prescribed ({asked.source})")
    if not mean > 0:
        return Sigma(None, "", "the general mean is not above zero, so that σ_pt cannot be taken from it")
    if asked.percent is not None:
        return Sigma(mean * asked.percent / 100, f"{asked.percent:g} % of the general mean ({asked.source})")
    factor = job.method.mass_fraction_per_unit
    if job.method.method_defined or factor is None or mean * factor > 1:
        why = (
            "the measurand is defined by the method"
            if job.method.method_defined
            else f"{job.method.unit} is no mass fraction"
        )
        return Sigma(None, "", f"{why}, so that no σ_pt can be predicted")
    predicted = float(horwitz.predicted_sd(mean * factor, model=asked.model)) / factor
    return Sigma(predicted, f"predicted at the general mean, {asked.model} ({asked.source})")


def interval(use: str, low: float | None, high: float | None, level: float, method: str) -> Interval:
    return Interval(use=use, level=level, low=low, high=high, method=method)  # type: ignore[arg-type]


def symbol(name: str, printed: str, meaning: str, value: float, unit: str) -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=value, unit=unit)
