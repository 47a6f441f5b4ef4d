"""Parts of the settings of a comparison: design, margin, shift, known spread, earlier evaluations."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from validate.protocol.fields import Count, Label, LevelText, PositiveNumber, RelativePath, Sentence
from validate.protocol.settings import Model

USUAL_FALSE_ALARM = 0.05


class Design(Model):
    """Which question is asked, and with how many samples."""

    kind: Literal["equivalence", "shift detection"] = Field(
        description="equivalence: proves sameness within a margin; shift detection: a quick look at few pairs, "
        "set up once from the known repeatability."
    )
    levels: tuple[LevelText, ...] = Field(
        default=(), max_length=20, description="Nominal levels of the samples, in the method's unit."
    )
    samples: Count | None = Field(default=None, description="Samples (pairs) planned, at each level if there are any.")
    replicates: Count | None = Field(default=None, description="Results planned of each sample with either.")


class Margin(Model):
    """How far apart new and current may be and still count as the same."""

    percent: PositiveNumber | None = Field(default=None, description="10: the ratio may lie from 90 to 110 %.")
    factor: PositiveNumber | None = Field(
        default=None, description="1.1: the ratio may lie from 1/1.1 to 1.1 (90.9 to 110 %)."
    )
    absolute: PositiveNumber | None = Field(default=None, description="Largest difference, in the method's unit.")
    share: PositiveNumber | None = Field(
        default=None, description="Share of the permitted uncertainty at the decision limit, for example 0.3."
    )
    permitted_percent: PositiveNumber | None = Field(
        default=None, description="Permitted uncertainty at the decision limit, in percent of it; with share."
    )
    permitted: PositiveNumber | None = Field(
        default=None, description="Permitted uncertainty at the decision limit, in the method's unit; with share."
    )
    per: Literal["level", "study"] = Field(
        default="level", description="Whether every declared level must be shown, or only all samples together."
    )
    reason: Sentence = Field(description="Why this margin.")

    @property
    def is_absolute(self) -> bool:
        """Whether the margin is a difference in the method's unit, not a ratio."""
        return self.absolute is not None or self.permitted is not None

    @property
    def ends(self) -> tuple[float, float]:
        """Low and high: of the ratio (1 is equal), or of the difference."""
        if self.is_absolute:
            half = self.absolute if self.absolute is not None else self.share * self.permitted
            return -half, half
        if self.factor is not None:
            return 1 / self.factor, self.factor
        share = (self.percent if self.percent is not None else self.share * self.permitted_percent) / 100
        return 1 - share, 1 + share

    @model_validator(mode="after")
    def _is_one_margin(self) -> Self:
        forms = [key for key in ("percent", "factor", "absolute", "share") if getattr(self, key) is not None]
        self.refuse(not_a_design(self._faults(forms)))
        return self

    def _faults(self, forms: list[str]) -> Iterator[tuple[str, str]]:
        permitted = [key for key in ("permitted", "permitted_percent") if getattr(self, key) is not None]
        if len(forms) != 1:
            yield (forms[1] if forms else ""), "one of percent, factor, absolute and share is expected"
        elif len(permitted) != (forms == ["share"]):
            yield (
                permitted[-1] if permitted else "share",
                "share goes with permitted or permitted_percent, and these with nothing else",
            )
        elif self.factor is not None and self.factor <= 1:
            yield "factor", "a factor above 1 is expected, for example 1.1"
        elif not self.is_absolute and self.ends[0] <= 0:
            yield forms[0], "a margin below 100 % is expected"


class Shift(Model):
    """A shift that must not stay hidden."""

    percent: PositiveNumber | None = Field(default=None, description="Critical shift upwards or downwards, in percent.")
    absolute: PositiveNumber | None = Field(default=None, description="Critical shift in the method's unit.")
    false_alarm: PositiveNumber = Field(
        default=USUAL_FALSE_ALARM, description="Chance that an unchanged lot is rejected."
    )
    reason: Sentence = Field(description="Why this shift.")

    @model_validator(mode="after")
    def _is_one_shift(self) -> Self:
        self.refuse(not_a_design(self._faults()))
        return self

    def _faults(self) -> Iterator[tuple[str, str]]:
        if (self.percent is None) == (self.absolute is None):
            yield "", "either percent or absolute is expected"
        if self.percent is not None and self.percent >= 100:
            yield "percent", "a shift below 100 % is expected"
        if self.false_alarm >= 0.5:
            yield "false_alarm", "a chance below 0.5 is expected, for example 0.05"


class Spread(Model):
    """Repeatability known before the comparison, pooled from the validation and earlier lots."""

    rsd_percent: PositiveNumber | None = Field(default=None, description="Repeatability RSD of single results.")
    s_r: PositiveNumber | None = Field(default=None, description="Repeatability SD, in the method's unit.")
    df: PositiveNumber = Field(description="Degrees of freedom behind it.")
    source: Sentence = Field(description="Where it comes from.")

    @model_validator(mode="after")
    def _is_one_spread(self) -> Self:
        one = (self.rsd_percent is None) != (self.s_r is None)
        self.refuse(not_a_design([] if one else [("", "either rsd_percent or s_r is expected")]))
        return self


class Earlier(Model):
    """An evaluation of an earlier lot, copied into the protocol's folder."""

    file: RelativePath = Field(description="Its evaluation.json, under a name of its own.")
    study: Label | None = Field(default=None, description="Name of the comparison in it; where it has several.")


def not_a_design(faults: Iterable[tuple[str, str]]) -> list[tuple[str, PydanticCustomError]]:
    return [(key, PydanticCustomError("not-a-design", words)) for key, words in faults]  # type: ignore[arg-type]
