"""What every finding of a level shares: its frame, its intervals, what forbids a verdict."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from validate.studies.collaborative_trial.kinds import BY_NAME
from validate.studies.collaborative_trial.level_data import LevelData
from validate.studies.collaborative_trial.settings import CollaborativeTrialSettings
from validate.studies.contract import StudyInput
from validate.vocabulary.finding import Finding, Interval

ISO_5725_2 = "ISO 5725-2:1994, 7.4 (clause from memory)"
ISO_5725_3 = "ISO 5725-3:1994, 8 (clause from memory)"
ISO_5725_5 = "ISO 5725-5:1998, 4 (clause from memory)"
ISO_5725_6 = "ISO 5725-6:1994, 4.1 (clause from memory)"
APPENDIX_J = "AOAC Official Methods, Appendix J (2012), Annex F"
RESOLUTION_SHARE = 0.5
"""A standard deviation below this share of the reading's resolution gets no verdict."""


@dataclass(frozen=True)
class Context:
    """One level of the trial."""

    job: StudyInput
    data: LevelData

    @property
    def settings(self) -> CollaborativeTrialSettings:
        return self.job.settings  # type: ignore[return-value]

    @property
    def level(self) -> str:
        return self.data.level

    @property
    def unit(self) -> str:
        return self.job.method.unit

    @property
    def source(self) -> str:
        """Where the formulas of the design stand."""
        design = self.settings.design
        if design.kind == "split":
            return ISO_5725_5
        return ISO_5725_2 if design.runs is None else ISO_5725_3

    def finding(self, name: str, value: float | None, **parts: object) -> Finding:
        unit = BY_NAME[name].unit
        return Finding(
            name=name,
            level=self.level,
            value=value,
            unit=self.unit if unit == "method" else unit,
            rows=(self.job.table.rows(self.data.rows),),  # type: ignore[union-attr]
            **parts,  # type: ignore[arg-type]
        )

    @property
    def blocked_readings(self) -> tuple[str, ...]:
        """Why no figure of this level can carry a verdict: results that are no numbers, or clipped ones."""
        data, reasons = self.data, []
        if len(data.censored):
            whole = data.values.size + len(data.censored)
            reasons.append(f"{len(data.censored)} of {whole} results are below a limit or not detected")
        if data.at_floor:
            floor = f"{self.job.method.floor:g}"
            reasons.append(f"{data.at_floor} of {data.values.size} results stand at the floor of the reading ({floor})")
        return tuple(reasons)

    def blocked_spread(self, sd: float) -> tuple[str, ...]:
        """Why a standard deviation cannot carry a verdict: zero, or finer than the reading."""
        resolution = self.job.method.resolution
        if sd == 0:
            return ("the standard deviation is 0: all compared results are equal",)
        if resolution and sd < RESOLUTION_SHARE * resolution:
            return (f"the standard deviation is below half the resolution of the reading ({resolution:g} {self.unit})",)
        return ()

    def three(self, limits: Callable[[str, float], Interval]) -> tuple[Interval, ...]:
        """The intervals for the reader, for `met` and for `not met`."""
        return (limits("shown", 0.95), limits("met", 0.90), limits("not_met", self.job.not_met_level))


def interval(use: str, low: float, high: float, level: float, method: str) -> Interval:
    return Interval(use=use, level=level, low=low, high=high, method=method)  # type: ignore[arg-type]
