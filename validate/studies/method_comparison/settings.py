"""Keys of a method comparison in the protocol, and the columns of its table."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from validate.protocol.fields import Count, LevelText, PositiveNumber, Sentence, YesNo
from validate.protocol.settings import Model, StudySettings
from validate.tables.table import Column

DEMING, RANKS = "Deming", "Passing-Bablok"
CONSTANT, PROPORTIONAL = "constant", "proportional"
DIFFERENCE, RATIO = "difference", "ratio"
FEWEST = 20
"""Samples without which no verdict is given (common practice asks for 40; no source)."""


class Design(Model):
    """What the bench is to do."""

    samples: Count = Field(description="Samples that both methods measure.")
    replicates: Count = Field(default=1, description="Readings of each sample by each method.")
    days: Count | None = Field(default=None, description="Days over which the samples are spread.")


class Line(Model):
    """The line from which slope, intercept and the bias at a level are taken."""

    by: Literal["Deming", "Passing-Bablok"] = Field(
        default=DEMING, description="`Deming`: errors of both methods, their ratio known; `Passing-Bablok`: by ranks."
    )
    variance_ratio: PositiveNumber | None = Field(
        default=None,
        description="For Deming: variance of a reading of this method over that of the reference; from earlier work.",
    )
    errors: Literal["constant", "proportional"] = Field(
        default=CONSTANT, description="Whether the scatter is the same at all contents, or grows with the content."
    )

    @model_validator(mode="after")
    def _knows_its_ratio(self) -> Self:
        if self.by == DEMING and self.variance_ratio is None:
            self.refuse([("", PydanticCustomError("not-a-design", "`variance_ratio` is expected for a Deming line"))])
        return self


class MethodComparisonSettings(StudySettings):
    """The same samples measured by this method and by a reference method."""

    kind: Literal["method_comparison"]
    reference: Sentence = Field(description="The reference method, in words.")
    design: Design = Field(description="Samples, readings and days as planned.")
    levels: tuple[LevelText, ...] = Field(
        default=(), max_length=20, description="Decision levels at which the bias is stated, in the method's unit."
    )
    line: Line = Field(description="Which line, and what is known of the errors.")
    differences: Literal["difference", "ratio"] = Field(
        default=DIFFERENCE,
        description="Limits of agreement as differences, or as ratios of this method to the reference.",
    )
    as_printed_1986: YesNo = Field(
        default=False,
        description="Limits of agreement with 2 s and √(3/n), as first published, in the place of 1.96 s.",
    )

    @model_validator(mode="after")
    def _levels_are_contents(self) -> Self:
        faults = []
        if any(float(level) <= 0 for level in self.levels):
            faults.append(("levels", PydanticCustomError("not-a-design", "contents above 0 are expected")))
        if len(set(self.levels)) < len(self.levels):
            faults.append(("levels", PydanticCustomError("not-a-design", "each level once is expected")))
        if self.design.samples == 0 or self.design.replicates == 0:
            faults.append(
                ("design", PydanticCustomError("not-a-design", "1 sample and 1 reading or more are expected"))
            )
        self.refuse(faults)
        return self


CONDITIONS = ("day", "run", "analyst", "instrument", "lot")
COLUMNS = (
    Column(role="sample", title="name of the sample; the same for both methods", type="label", identifies=True),
    Column(role="reference", title="result of the reference method", type="number", unit="method", minimum=0,
           censored=True),
    Column(role="found", title="result of this method", type="number", unit="method", minimum=0, censored=True),
    Column(role="replicate", title="number of the reading of this sample", type="label", required=False,
           identifies=True),
    *(Column(role=name, title=f"{name} of the result by this method", type="label", required=False)
      for name in CONDITIONS),
)  # fmt: skip


def declared_levels(settings: MethodComparisonSettings) -> tuple[str, ...]:
    """The decision levels, in the order of the protocol."""
    return settings.levels
