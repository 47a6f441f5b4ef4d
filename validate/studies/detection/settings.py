"""Keys of a detection study in the protocol, and the columns of its table."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from validate.protocol.fields import Count, Label, LevelText, Number
from validate.protocol.settings import Model, StudySettings
from validate.tables.table import Column

BLANK = "0"
"""The level of a blank."""
SAMPLES, STANDARDS = "samples", "standards"
CONCENTRATION, SIGNAL = "concentration", "signal"
AS_READ, SPIKES, OF_STANDARDS = "as read", "spiked samples", "standards"

FEWEST_BLANKS = 10
FEWEST_LOW_LEVEL = 7
FEWEST_DAYS = 3
FEWEST_BLANKS_OF_CLAIM = 20
FEWEST_TRIALS_OF_CLAIM = 20
"""Blanks, low-level samples and days behind a limit; blanks and trials behind a claim (19 of 20 detected)."""
NEAR = 2.0
"""A spiked level confirms or refutes a limit when they differ by at most this factor. Common practice, no source."""
FAR_ABOVE = 3.0
"""Above this multiple of the limit a sample scatters too much to stand for a blank."""

Detect = Literal[
    "blanks",
    "low-level samples",
    "calibration",
    "MDL",
    "trials",
    "POD",
    "3 SD",
    "3.3 SD",
    "3 residual SD",
    "residual SD",
    "intercept SD",
]
Quantify = Literal["10 SD", "residual SD", "intercept SD", "criteria"]
QUALITIES = ("mean_recovery", "rsd_r", "rsd_intermediate")
"""Findings whose verdicts make a quantification limit."""


class Design(Model):
    """What the bench is to do."""

    blanks: Count = Field(default=0, description="Blank samples in all, each through the whole procedure.")
    levels: tuple[LevelText, ...] = Field(
        default=(), max_length=50, description="Spiked levels in the method's unit, the blank (0) left out."
    )
    replicates: Count = Field(default=0, description="Samples at each spiked level in all.")
    days: Count | None = Field(default=None, description="Days over which blanks and spiked samples are spread.")

    @model_validator(mode="after")
    def _is_a_design(self) -> Self:
        faults = []
        if any(float(level) <= 0 for level in self.levels):
            faults.append(("levels", "spiked levels above 0 are expected; blanks are counted under `blanks`"))
        if len(set(self.levels)) < len(self.levels):
            faults.append(("levels", "every level stands once"))
        self.refuse((key, PydanticCustomError("not-a-design", words)) for key, words in faults)  # type: ignore[arg-type]
        return self


class Limit(Model):
    """By which approach the detection limit is claimed."""

    by: Detect = Field(description="The approach that is claimed and judged; all others stand beside it.")


class Quantification(Model):
    """By which approach the quantification limit is claimed."""

    by: Quantify = Field(description="A multiple of a named SD, or the lowest level that meets the criteria.")
    findings: tuple[Literal["mean_recovery", "rsd_r", "rsd_intermediate"], ...] = Field(
        default=QUALITIES, min_length=1, description="With `by: criteria`: findings whose verdicts count at a level."
    )


class DetectionSettings(StudySettings):
    """Study of the smallest content that the method tells from nothing, and of the smallest that it measures."""

    levels_beyond_scope = True

    kind: Literal["detection"]
    design: Design = Field(description="Blanks, spiked levels, replicates and days as planned.")
    lod: Limit = Field(description="The claimed detection limit.")
    loq: Quantification = Field(
        default=Quantification(by="criteria"), description="The claimed quantification limit; `by: criteria` if absent."
    )
    response: Literal["concentration", "signal"] = Field(
        default=CONCENTRATION, description="What the table holds: contents as read, or signals of the instrument."
    )
    signal_unit: Label = Field(default="signal units", description="Unit of the signals, for print.")
    rows: Literal["samples", "standards"] = Field(
        default=SAMPLES,
        description="What rows without a calibration label are: samples through the whole procedure, or standards.",
    )
    sensitivity: Literal["as read", "spiked samples", "standards"] | None = Field(
        default=None,
        description="Signal per content: 1 for contents as read, or the slope over blanks and spiked samples, or that "
        "of the standards. Absent: as read for contents, standards (else spiked samples) for signals.",
    )
    averaged: Count = Field(default=1, description="Determinations that are averaged into one reported result.")
    decision_limit: Number | None = Field(
        default=None, description="Reading above which a sample counts as detected; absent: the critical value found."
    )
    low_level: LevelText | None = Field(
        default=None, description="The spiked level whose scatter stands for that of blanks; absent: the lowest."
    )

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        faults = []
        if self.averaged < 1:
            faults.append(("averaged", "a whole number from 1 is expected"))
        if self.low_level is not None and self.low_level not in self.design.levels:
            faults.append(("low_level", "one of the declared levels is expected"))
        if self.response == SIGNAL and self.sensitivity == AS_READ:
            faults.append(("sensitivity", "signals need a slope: spiked samples or standards"))
        self.refuse((key, PydanticCustomError("not-a-design", words)) for key, words in faults)  # type: ignore[arg-type]
        return self

    @property
    def role(self) -> str:
        """The column that holds the response."""
        return "found" if self.response == CONCENTRATION else "signal"


COLUMNS = (
    Column(role="level", title="spiked content of the sample, 0 for a blank; content of a standard", type="level",
           unit="method", minimum=0),
    Column(role="found", title="content as read", type="number", unit="method", required=False, censored=True),
    Column(role="signal", title="signal as read, where the table holds signals", type="number", required=False,
           censored=True),
    Column(role="detected", title="yes or no, where the test itself says so", type="label", required=False),
    Column(role="sample", title="number of the sample, one for each result", type="label", required=False,
           identifies=True),
    Column(role="calibration", title="for standards: the calibration that they belong to; empty for samples",
           type="label", required=False),
    Column(role="day", title="day of measurement", type="label", required=False),
    Column(role="analyst", title="who measured", type="label", required=False),
    Column(role="instrument", title="instrument", type="label", required=False),
    Column(role="lot", title="lot of kit, column or reagent", type="label", required=False),
    Column(role="origin", title="which blank material", type="label", required=False),
)  # fmt: skip

FACTORS = (
    ("days", "day"),
    ("analysts", "analyst"),
    ("instruments", "instrument"),
    ("lots", "lot"),
    ("blank materials", "origin"),
)


def declared_levels(settings: DetectionSettings) -> tuple[str, ...]:
    """The spiked levels in the order of the protocol."""
    return settings.design.levels


def columns_of(settings: DetectionSettings) -> tuple[Column, ...]:
    """The columns; the response that the protocol declares must be there, the other one is not looked for."""
    other = "signal" if settings.role == "found" else "found"
    return tuple(
        replace(column, required=True) if column.role == settings.role else column
        for column in COLUMNS
        if column.role != other
    )
