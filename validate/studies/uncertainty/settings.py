"""Keys of an uncertainty study in the protocol, and the columns of its optional table of results to decide on."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from validate.protocol.fields import Count, Label, LevelText, Number, PositiveNumber, Sentence, YesNo
from validate.protocol.settings import Model, StudySettings
from validate.tables.table import Column

TOP_DOWN, DEFAULT = "top-down", "default of the law"
BY_LEVEL, SEVERAL = "level", "several levels"
Rule = Literal["simple", "guard band", "beyond reasonable doubt"]
RULES: tuple[Rule, ...] = ("simple", "guard band", "beyond reasonable doubt")
FEWEST_OCCASIONS = 10
"""Below this number of days the uncertainty is called provisional. Common practice, no source."""
MINIMUM_GROUPS = 5
"""Fewest days behind the precision for a verdict, as for intermediate precision itself."""
REACH = 2.0
"""A relative SD found at one content is used for contents within this factor of it. Common practice, no source."""


class Precision(Model):
    """Where within-laboratory reproducibility comes from; absent: the least favourable study of the protocol."""

    study: Label | None = Field(default=None, description="Only this study of the protocol.")
    relative_percent: PositiveNumber | None = Field(
        default=None, description="Or: relative SD from a control material measured over time, in percent."
    )
    occasions: Count | None = Field(default=None, description="Days or runs behind the relative SD.")
    origin: Sentence | None = Field(default=None, description="Which control material, from when to when.")

    @model_validator(mode="after")
    def _is_one_source(self) -> Self:
        faults = []
        if self.study is not None and self.relative_percent is not None:
            faults.append(("relative_percent", "either a study or a relative SD is expected"))
        if self.relative_percent is not None and (self.origin is None or (self.occasions or 0) < 2):
            faults.append(("relative_percent", "`origin` and `occasions` (2 or more) are expected beside it"))
        self.refuse((key, PydanticCustomError("not-a-design", words)) for key, words in faults)  # type: ignore[arg-type]
        return self


class BiasSource(Model):
    """Where the bias comes from; absent: the least favourable study of the protocol, level by level."""

    study: Label | None = Field(default=None, description="Only this study of the protocol.")
    by: Literal["level", "several levels"] = Field(
        default=BY_LEVEL, description="The bias of each level, or the root mean square of the relative biases of all."
    )
    relative_u_of_reference_percent: Number = Field(
        default=0.0, description="With `several levels`: standard uncertainty of the reference values, in percent."
    )
    recovery_percent: PositiveNumber | None = Field(
        default=None, description="Or: mean recovery from an earlier study or a certified material, in percent."
    )
    standard_error_percent: PositiveNumber | None = Field(
        default=None, description="Its standard error, reference value included, in percent."
    )
    origin: Sentence | None = Field(default=None, description="Where that recovery comes from.")

    @model_validator(mode="after")
    def _is_one_source(self) -> Self:
        faults = []
        if self.recovery_percent is not None:
            if self.study is not None or self.by == SEVERAL:
                faults.append(("recovery_percent", "either studies of the protocol or an earlier recovery is expected"))
            if self.standard_error_percent is None or self.origin is None:
                faults.append(("recovery_percent", "`standard_error_percent` and `origin` are expected beside it"))
        self.refuse((key, PydanticCustomError("not-a-design", words)) for key, words in faults)  # type: ignore[arg-type]
        return self


class Contribution(Model):
    """A further component, from outside this protocol."""

    name: Label = Field(description="What it is: sampling, moisture, stability …")
    relative_u_percent: PositiveNumber = Field(description="Relative standard uncertainty, in percent.")
    origin: Sentence = Field(description="Where the figure comes from.")


class DefaultOfLaw(Model):
    """A default uncertainty that a law allows under a condition."""

    law: Literal["eu-2023-2782"] = Field(description="The law.")
    mean_absolute_z: Number | None = Field(
        default=None, description="Mean of the absolute z-scores of the laboratory's proficiency tests."
    )
    scored_with_percent: Number | None = Field(
        default=None, description="Standard deviation with which these scores were computed, in percent of the value."
    )
    rounds: Sentence | None = Field(default=None, description="Which rounds: organiser, dates, number.")


class UncertaintySettings(StudySettings):
    """Measurement uncertainty from precision and bias, and the decision at the limit."""

    kind: Literal["uncertainty"]
    levels: tuple[LevelText, ...] = Field(
        min_length=1, max_length=50, description="Contents at which the uncertainty is stated; the limit among them."
    )
    basis: Literal["top-down", "default of the law"] = Field(
        default=TOP_DOWN, description="Which uncertainty is stated and used for decisions."
    )
    precision: Precision = Field(default=Precision(), description="Source of within-laboratory reproducibility.")
    bias: BiasSource = Field(default=BiasSource(), description="Source of the bias.")
    corrected_for_recovery: YesNo = Field(
        default=False, description="Whether reported results will be divided by the mean recovery."
    )
    contributions: tuple[Contribution, ...] = Field(
        default=(), max_length=20, description="Further components from outside the protocol, sampling for example."
    )
    default_of_law: DefaultOfLaw | None = Field(default=None, description="A default that a law allows, to compare.")
    k: PositiveNumber = Field(default=2.0, description="Coverage factor, for `coverage: k`.")
    coverage: Literal["k", "t"] = Field(
        default="k", description="`k`: the factor above; `t`: Student's t for the effective degrees of freedom."
    )
    rule: Rule = Field(default="guard band", description="How a result is held against the limit.")

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        faults = []
        if any(float(level) <= 0 for level in self.levels):
            faults.append(("levels", "contents above 0 are expected"))
        if self.basis == DEFAULT and self.default_of_law is None:
            faults.append(("basis", "`default_of_law` is expected beside it"))
        if not 1 <= self.k <= 5:
            faults.append(("k", "a coverage factor from 1 to 5 is expected"))
        if len({each.name for each in self.contributions}) < len(self.contributions):
            faults.append(("contributions", "every contribution has its own name"))
        self.refuse((key, PydanticCustomError("not-a-design", words)) for key, words in faults)  # type: ignore[arg-type]
        return self


COLUMNS = (
    Column(role="sample", title="number of the sample", type="label", identifies=True),
    Column(role="result", title="result as it would be reported, before rounding", type="number", unit="method",
           minimum=0, censored=True),
)  # fmt: skip


def declared_levels(settings: UncertaintySettings) -> tuple[str, ...]:
    """The levels in the order of the protocol."""
    return settings.levels
