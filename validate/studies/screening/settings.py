"""Keys of a screening study in the protocol, and the columns of its table."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator
from pydantic_core import PydanticCustomError

from validate.protocol.fields import (
    NUMBER_PATTERN,
    Count,
    Label,
    LevelText,
    Number,
    PositiveCount,
    PositiveNumber,
    Sentence,
    level_text,
    read_positive,
)
from validate.protocol.settings import Model, StudySettings
from validate.tables.table import Column

BLANK = "0"
"""The level of a negative sample."""
CONTENT, SIGNAL, DECISION = "content", "signal", "decision"
PROPORTIONAL, INVERSE = "proportional", "inverse"
FEWEST_READINGS = 3
FEWEST_COUNTED = 6
FEWEST_FOR_A_RATE = 10
"""Samples behind a cut-off at all, a counted share that is judged, a rate by the formula that is judged."""
FEWEST_DAYS = 5
LARGEST_SHARE_IN_NEGATIVES = 0.2
"""Days of a first validation, and the largest content of a negative sample as a share of the target (EU 2023/2782)."""


def _as_written(text: Any) -> str:
    """A content above 0, kept as it was written: its digits say how the cut-off is stated."""
    read_positive(text)
    return text.strip()


WrittenContent = Annotated[
    str,
    BeforeValidator(_as_written),
    WithJsonSchema({"type": ["number", "string"], "pattern": NUMBER_PATTERN, "exclusiveMinimum": 0}),
]


class Design(Model):
    """What the bench is to do."""

    negatives: Count = Field(default=0, description="Negative samples in all, each through the whole procedure.")
    positives: Count = Field(default=0, description="Samples at the target level in all.")
    days: Count | None = Field(default=None, description="Days over which the samples are spread.")
    levels: tuple[LevelText, ...] = Field(
        default=(), max_length=50, description="Further levels, for the detection curve; without 0 and the target."
    )
    replicates: Count = Field(default=0, description="Samples at each further level in all.")
    compared: Count = Field(default=0, description="Samples that a reference method measures as well.")

    @model_validator(mode="after")
    def _is_a_design(self) -> Self:
        faults = []
        if any(float(level) <= 0 for level in self.levels):
            faults.append(("levels", "contents above 0 are expected; negative samples are counted under `negatives`"))
        if len(set(self.levels)) < len(self.levels):
            faults.append(("levels", "every level stands once"))
        if not (self.negatives or self.positives or self.levels or self.compared):
            faults.append(("", "some samples are expected: negatives, positives, levels or compared"))
        self.refuse((key, PydanticCustomError("not-a-design", words)) for key, words in faults)  # type: ignore[arg-type]
        return self


class CutOffInUse(Model):
    """A cut-off that was determined before this study."""

    value: Number = Field(description="The cut-off, in the unit of the readings.")
    source: Sentence = Field(description="Where it comes from: the study and its date.")


class Curve(Model):
    """The curve of detection over the levels."""

    model: Literal["cloglog", "cloglog-slope-1", "logit", "probit"] = Field(
        description="p = 1 − exp(−e^a·x^b) (`cloglog`; b = 1: `cloglog-slope-1`), or a logistic or normal curve."
    )


class NegativeContent(Model):
    """What the negative samples contain at most."""

    at_most: PositiveNumber = Field(description="Largest content, in the method's unit.")
    by: Sentence = Field(description="How that is known: a reference method, a certificate.")


class QualityControl(Model):
    """What guards the cut-off in daily use."""

    positives_per_batch: Count = Field(description="Samples at the target level in each batch.")
    redetermined_after_months: PositiveCount = Field(
        description="Months after which the cut-off is determined again from them."
    )


class ScreeningSettings(StudySettings):
    """Study of a test that sorts samples at a target level into suspect and negative."""

    levels_beyond_scope = True

    kind: Literal["screening"]
    target: WrittenContent | None = Field(
        default=None,
        description="Screening target concentration, with its significant figures: the cut-off is stated with as many.",
    )
    reads: Literal["content", "signal", "decision"] = Field(
        description="What the test gives: a content, a signal of the instrument, or a decision (suspect or not)."
    )
    response: Literal["proportional", "inverse"] | None = Field(
        default=None, description="Whether the reading rises or falls with the content; not for a decision."
    )
    signal_unit: Label = Field(default="signal units", description="Unit of the signals, for print.")
    design: Design = Field(description="Samples and days as planned.")
    cut_off: CutOffInUse | None = Field(
        default=None, description="Cut-off from earlier work that sorts the samples; absent: the one found here."
    )
    curve: Curve | None = Field(default=None, description="The curve through the shares of suspect samples, if any.")
    negatives_hold: NegativeContent | None = Field(
        default=None, description="What the negative samples contain at most, where the table does not say."
    )
    reference: Sentence | None = Field(default=None, description="The reference method, in words.")
    quality_control: QualityControl | None = Field(
        default=None, description="Quality control samples in daily use, and when the cut-off is determined again."
    )

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        faults = []
        reads = self.reads != DECISION
        if reads and self.response is None:
            faults.append(("", f"`response: {PROPORTIONAL}` or `response: {INVERSE}` is expected for a {self.reads}"))
        if not reads and self.response is not None:
            faults.append(("response", "a decision neither rises nor falls: no `response` is expected"))
        if not reads and self.cut_off is not None:
            faults.append(("cut_off", "a decision has no cut-off"))
        if reads and self.target is None and self.cut_off is None:
            faults.append(("", "`target` is expected, or the `cut_off` in use"))
        if self.design.positives and self.target is None:
            faults.append(("", "`target` is expected for samples at the target level"))
        if self.design.compared and (self.reference is None or self.target is None):
            faults.append(("", "`reference` and `target` are expected where samples are compared"))
        if self.target is not None and self.target_level in self.design.levels:
            faults.append(("design", "the target level is counted under `positives`, not under `levels`"))
        if self.curve is not None and not self.levels:
            faults.append(("curve", "a curve needs `levels` or positives"))
        self.refuse((key, PydanticCustomError("not-a-design", words)) for key, words in faults)  # type: ignore[arg-type]
        return self

    @property
    def target_level(self) -> str | None:
        """The target as levels are written: `5` for `5.0`."""
        return None if self.target is None else level_text(self.target)

    @property
    def target_figures(self) -> int:
        """Significant figures of the target as written: 2 for `5.0`, 1 for `5`, 3 for `100`."""
        text = (self.target or "").lstrip("+").lower().split("e")[0]
        return len(text.replace(".", "").lstrip("0")) or 1

    @property
    def role(self) -> str:
        """The column that holds what the test gives."""
        return {CONTENT: "found", SIGNAL: "signal", DECISION: "suspect"}[self.reads]

    @property
    def levels(self) -> tuple[str, ...]:
        """Every level with analyte in ascending order, the target among them where positives are planned."""
        own = (self.target_level,) if self.design.positives and self.target_level is not None else ()
        return tuple(sorted((*self.design.levels, *own), key=Decimal))


COLUMNS = (
    Column(role="level", title="content of the sample: 0 for a negative one, the target, a further level; empty for a "
           "sample that only the reference method knows", type="level", unit="method", minimum=0, censored=True),
    Column(role="found", title="content as read", type="number", unit="method", required=False, censored=True),
    Column(role="signal", title="signal as read", type="number", required=False, censored=True),
    Column(role="suspect", title="yes or no, where the test itself decides", type="label", required=False),
    Column(role="reference", title="result of the reference method", type="number", unit="method", required=False,
           minimum=0, censored=True),
    Column(role="sample", title="number of the sample, one for each result", type="label", required=False,
           identifies=True),
    Column(role="day", title="day of measurement", type="label", required=False),
    Column(role="analyst", title="who measured", type="label", required=False),
    Column(role="lot", title="lot of kit, strip or reagent", type="label", required=False),
    Column(role="instrument", title="reader or instrument", type="label", required=False),
    Column(role="origin", title="which material, variety or commodity", type="label", required=False),
)  # fmt: skip
FACTORS = (
    ("days", "day"),
    ("analysts", "analyst"),
    ("lots", "lot"),
    ("instruments", "instrument"),
    ("materials", "origin"),
)


def declared_levels(settings: ScreeningSettings) -> tuple[str, ...]:
    """Levels with analyte, the target among them."""
    return settings.levels


def columns_of(settings: ScreeningSettings) -> tuple[Column, ...]:
    """What the test gives must be there; its other forms are not looked for."""
    others = {"found", "signal", "suspect"} - {settings.role}
    return tuple(
        replace(column, required=True) if column.role == settings.role else column
        for column in COLUMNS
        if column.role not in others
    )
