"""What a protocol says of a precision study: the design, what was recorded, what is claimed."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PlainSerializer, WithJsonSchema, model_validator

from validate.protocol.fields import Count, Label, LevelText, Sentence, level_text, read_number
from validate.protocol.settings import Model, StudySettings
from validate.studies.precision.kinds import SHOWN_HORRATS, HorratName
from validate.studies.precision.words import CONDITIONS, FactorName, Scope, scope_of

RESERVED = ("result", "level")


class Factor(Model):
    """A factor of the design: its column, and what it is."""

    column: Label = Field(description="Column of the table that holds the labels of this factor.")
    called: FactorName = Field(
        description="What the labels tell apart. Days, runs, analysts, instruments, calibrations and kit lots give "
        "intermediate precision, laboratories reproducibility, anything else a spread of the material."
    )


class Design(Model):
    """How the results are grouped, and what was planned."""

    kind: Literal["one-way", "nested", "crossed"] = Field(
        description="one-way: groups of repeated results; nested: inner groups belong to one outer group each; "
        "crossed: every label of one factor is combined with every label of the others."
    )
    outer: Factor = Field(description="The factor between whose groups the spread is asked for.")
    inner: tuple[Factor, ...] = Field(
        default=(), description="Nested: the one inner factor; crossed: the other factors."
    )
    levels: tuple[LevelText, ...] = Field(
        default=(), description="Declared levels, in the method's unit; absent when one material was measured."
    )
    groups: Count | None = Field(default=None, description="Outer groups planned at each level.")
    replicates: Count | None = Field(default=None, description="Results planned in each innermost group.")
    recorded: tuple[Factor, ...] = Field(
        default=(), description="Other conditions in the table: told as varied or constant, not part of the model."
    )

    @property
    def factors(self) -> tuple[Factor, ...]:
        """The factors of the model, outer first."""
        return (self.outer, *self.inner)

    @model_validator(mode="after")
    def _is_a_design(self) -> Design:
        if self.kind == "one-way" and self.inner:
            raise ValueError(
                "a one-way design has no inner factor; write kind: nested or crossed, or move it to recorded"
            )
        if self.kind == "nested" and len(self.inner) != 1:
            raise ValueError("a nested design needs exactly one inner factor")
        if self.kind == "crossed" and len(self.inner) not in (1, 2):
            raise ValueError("a crossed design needs one or two inner factors")
        columns = [factor.column for factor in (*self.factors, *self.recorded)]
        if any(column in RESERVED for column in columns):
            raise ValueError("'result' and 'level' are columns of the study and cannot be factors")
        if len(set(columns)) != len(columns):
            raise ValueError("every factor needs a column of its own")
        if self.kind == "crossed" and any(
            scope_of(factor.called) is not Scope.WITHIN_LABORATORY for factor in self.factors
        ):
            raise ValueError(
                "crossed factors are conditions within one laboratory (day, run, analyst, instrument, calibration, "
                "lot); for materials declare levels, for laboratories a nested design"
            )
        if self.kind == "nested" and scope_of(self.outer.called) < scope_of(self.inner[0].called):
            raise ValueError(
                f"{self.inner[0].called} cannot be nested in {self.outer.called}: the wider condition "
                "(material, then laboratory, then conditions within a laboratory) is the outer factor"
            )
        if len(set(self.levels)) != len(self.levels):
            raise ValueError("a level is declared twice")
        return self


def read_claimed_sd(value: Any) -> dict[str, float]:
    """`0.3`, or `{5: 0.3, 20: 0.9}` by level, as level text → SD; empty text stands for every level."""
    entries = value if isinstance(value, dict) else {"": value}
    claimed = {level_text(level) if level else "": read_number(sd) for level, sd in entries.items()}
    if not claimed or min(claimed.values()) <= 0:
        raise ValueError("a positive standard deviation is expected")
    return claimed


def as_written(claimed: dict[str, float]) -> float | dict[str, float]:
    """The claim in the form of the protocol: a number when it speaks of every level."""
    return claimed[""] if list(claimed) == [""] else claimed


ClaimedSd = Annotated[
    dict[str, float],
    BeforeValidator(read_claimed_sd),
    PlainSerializer(as_written),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "number", "exclusiveMinimum": 0},
                {"type": "object", "additionalProperties": {"type": "number", "exclusiveMinimum": 0}},
            ]
        }
    ),
]


class Claimed(Model):
    """A repeatability that somebody states, to compare with what was found."""

    s_r: ClaimedSd = Field(description="Claimed repeatability SD in the method's unit; one number, or level: number.")
    source: Sentence = Field(description="Who states it, and where.")

    def at(self, level: str | None) -> float | None:
        """The claimed SD at a level, or None when the claim does not speak of it."""
        return self.s_r.get(level or "", self.s_r.get(""))


class PrecisionSettings(StudySettings):
    """Keys of a study of kind `precision`."""

    kind: Literal["precision"]
    design: Design = Field(description="How the results are grouped.")
    claimed: Claimed | None = Field(
        default=None, description="A claimed repeatability SD to hold the found one against."
    )
    horrat: tuple[HorratName, ...] = Field(
        default=SHOWN_HORRATS, description="HorRat forms to show, each with its denominator and model in its name."
    )

    @property
    def conditions(self) -> tuple[Factor, ...]:
        """Every factor that the table records, model or not."""
        return (*self.design.factors, *self.design.recorded)

    @property
    def not_recorded(self) -> tuple[str, ...]:
        """Conditions within a laboratory of which the table says nothing."""
        told = {factor.called for factor in self.conditions}
        return tuple(name for name in CONDITIONS if name not in told)
