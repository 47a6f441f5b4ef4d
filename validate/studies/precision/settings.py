"""What a protocol says of a precision study: the design, what was recorded, what is claimed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, PlainSerializer, WithJsonSchema, model_validator
from pydantic_core import PydanticCustomError

from validate.protocol.fields import Label, LevelText, PositiveCount, Sentence, level_text, one_or_many, read_number
from validate.protocol.settings import Model, StudySettings
from validate.studies.precision.kinds import SHOWN_HORRATS, HorratName
from validate.studies.precision.words import CONDITIONS, FactorName, Scope, scope_of

RESERVED = ("result", "level")
EXPECTED_CLAIM = "a standard deviation above 0 is expected, or one for each level, for example 5: 0.3"


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
    groups: PositiveCount | None = Field(default=None, description="Outer groups planned at each level.")
    inner_groups: Annotated[tuple[PositiveCount, ...], BeforeValidator(one_or_many)] = Field(
        default=(), description="Groups planned of each inner factor: within one outer group, or crossed with it."
    )
    replicates: PositiveCount | None = Field(default=None, description="Results planned in each innermost group.")
    recorded: tuple[Factor, ...] = Field(
        default=(), description="Other conditions in the table: told as varied or constant, not part of the model."
    )

    @property
    def factors(self) -> tuple[Factor, ...]:
        """The factors of the model, outer first."""
        return (self.outer, *self.inner)

    @model_validator(mode="after")
    def _is_a_design(self) -> Self:
        faults = [*self._faults_of_inner(), *self._faults_of_columns()]
        if len(set(self.levels)) != len(self.levels):
            faults.append(("levels", "every level stands once"))
        self.refuse((key, PydanticCustomError("not-a-design", words)) for key, words in faults)  # type: ignore[arg-type]
        return self

    def _faults_of_inner(self) -> Iterator[tuple[str, str]]:
        if self.kind == "one-way" and self.inner:
            yield "inner", "a one-way design has no inner factor: write kind: nested or crossed, or move it to recorded"
        if self.kind == "nested" and len(self.inner) != 1:
            yield "inner", "a nested design needs exactly one inner factor"
        elif self.kind == "nested" and scope_of(self.outer.called) < scope_of(self.inner[0].called):
            inner, outer = self.inner[0].called, self.outer.called
            yield (
                "inner",
                f"{inner} cannot be nested in {outer}: materials are wider than laboratories, these wider than days",
            )
        if self.kind == "crossed" and len(self.inner) not in (1, 2):
            yield "inner", "a crossed design needs one or two inner factors"
        elif self.kind == "crossed" and any(scope_of(f.called) is not Scope.WITHIN_LABORATORY for f in self.factors):
            yield (
                "inner",
                (
                    f"crossed factors are conditions within one laboratory ({', '.join(CONDITIONS)}): "
                    "for materials declare levels, for laboratories a nested design"
                ),
            )

    def _faults_of_columns(self) -> Iterator[tuple[str, str]]:
        placed = [("outer", self.outer), *(("inner", f) for f in self.inner), *(("recorded", f) for f in self.recorded)]
        seen = set(RESERVED)
        for key, factor in placed:
            if factor.column in seen:
                yield (
                    key,
                    f"every factor needs a column of its own; {factor.column} is taken (result, level: the study)",
                )
            seen.add(factor.column)


def read_claimed_sd(value: Any) -> dict[str, float]:
    """`0.3`, or `{5: 0.3, 20: 0.9}` by level, as level text → SD; empty text stands for every level."""
    try:
        if isinstance(value, dict):
            claimed = {level_text(level): read_number(sd) for level, sd in value.items()}
        else:
            claimed = {"": read_number(value)}
    except PydanticCustomError as error:
        raise PydanticCustomError("not-a-claimed-sd", EXPECTED_CLAIM) from error
    if not claimed or min(claimed.values()) <= 0:
        raise PydanticCustomError("not-a-claimed-sd", EXPECTED_CLAIM)
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
