"""The part of a protocol that every study shares: data source, criteria, treatment of rows.

A study's `settings.py` or `study.py` derives its own model from `StudySettings` and adds
its keys. All models refuse unknown keys; every scalar arrives as text and is converted by
its declared type (see `fields.py`). Declared levels stand under `levels` or `design.levels`.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator
from pydantic_core import InitErrorDetails, PydanticCustomError

from validate.protocol.fields import (
    CellText,
    Count,
    Date,
    Label,
    LevelText,
    Number,
    Range,
    RelativePath,
    Sentence,
    SheetName,
    UnitText,
    refusal,
)

OWN = "own"
"""The `source` of a bound that the laboratory set itself."""


def is_workbook(file: str) -> bool:
    """Whether a data file is read as a workbook; its name decides."""
    return file.casefold().endswith((".xlsx", ".xlsm"))


class Model(BaseModel):
    """Base of every part of a protocol: unknown keys are refused, values cannot change."""

    # Built when first used: a protocol needs a few of the kinds of study, and each start would build them all.
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)

    def refuse(self, faults: Iterable[tuple[str, PydanticCustomError]]) -> None:
        """Raise one ValidationError with every fault; each is a key ("" for the whole part) and its error."""
        errors = [
            InitErrorDetails(type=error, loc=(key,) if key else (), input=getattr(self, key, None))
            for key, error in faults
        ]
        if errors:
            raise ValidationError.from_exception_data(type(self).__name__, errors)


class OneBound(Model):
    """At most one of three forms of a bound."""

    at_most: Number | None = Field(default=None, description="Upper bound, in the finding's unit.")
    at_least: Number | None = Field(default=None, description="Lower bound, in the finding's unit.")
    between: Range | None = Field(default=None, description="Lower and upper bound: [low, high].")

    @property
    def bounds(self) -> tuple[str, ...]:
        """The forms that are written, by key."""
        return tuple(key for key in ("at_most", "at_least", "between") if getattr(self, key) is not None)

    @model_validator(mode="after")
    def _is_one_bound(self) -> Self:
        written = self.bounds
        if len(written) > 1:
            keys = " and ".join(f'"{key}"' for key in written)
            self.refuse([(written[1], refusal("two-bounds", "one bound is expected", keys=keys))])
        return self


class DataSource(Model):
    """Where a study's table is and how it is written."""

    file: RelativePath = Field(description="CSV file or XLSX workbook in the protocol's folder.")
    sheet: SheetName | None = Field(
        default=None, description="Sheet of the workbook; may be absent where there is only one."
    )
    columns: dict[Label, Label] = Field(
        default_factory=dict,
        description="Column of the study: name of the column in the file, where they differ.",
    )
    units: dict[Label, UnitText] = Field(
        default_factory=dict, description="Unit of a column where it is not the expected one."
    )
    decimal: Literal[".", ","] | None = Field(default=None, description="Decimal sign; detected when absent.")
    delimiter: Literal[",", ";", "tab"] | None = Field(
        default=None, description="Column separator; detected when absent."
    )
    encoding: Literal["utf-8", "cp1252"] | None = Field(
        default=None, description="Text encoding; detected when absent."
    )

    @property
    def is_workbook(self) -> bool:
        return is_workbook(self.file)

    @model_validator(mode="after")
    def _keys_fit_the_file(self) -> Self:
        out_of_place = ("delimiter", "encoding") if self.is_workbook else ("sheet",)
        code = "text-key-for-workbook" if self.is_workbook else "sheet-of-no-workbook"
        written = [key for key in out_of_place if getattr(self, key) is not None]
        self.refuse([(key, refusal(code, "no such key is expected", key=key, file=self.file)) for key in written])
        return self


class Bound(OneBound):
    """A bound on a finding. Without a bound the set named under `use` gives it."""

    per: Literal["level", "study"] | None = Field(
        default=None, description="Judge each level, or the study as a whole."
    )
    levels: tuple[LevelText, ...] | None = Field(default=None, description="Only these levels.")
    judge_by: Literal["estimate", "interval"] | None = Field(
        default=None, description="What is held against the bound; comes from the set, must be given with an own bound."
    )
    source: Label | None = Field(default=None, description="`own`, or the set that gives the bound.")
    overrides: Label | None = Field(default=None, description="The set whose bound is replaced; needs a reason.")
    reason: Sentence | None = Field(default=None, description="Why the laboratory set this bound itself.")
    minimum_n: Count | None = Field(default=None, description="Fewest results for a verdict.")
    minimum_groups: Count | None = Field(default=None, description="Fewest days (or laboratories) for a verdict.")

    @model_validator(mode="after")
    def _says_whose_bound(self) -> Self:
        self.refuse(_faults_of_own_bound(self) if self.bounds else _faults_without_bound(self))
        return self


def _faults_of_own_bound(bound: Bound) -> Iterable[tuple[str, PydanticCustomError]]:
    """A typed bound is the laboratory's own: it says so, why, and how it is judged."""
    written = bound.bounds[0]
    if bound.overrides is None and bound.source is None:
        yield written, refusal("bound-without-source", "a source is expected", bound=written)
    elif bound.overrides is None and bound.source != OWN:
        yield "source", refusal("bound-beside-set", "a bound or a set is expected", bound=written, set=bound.source)
    elif bound.reason is None:
        key = "source" if bound.overrides is None else "overrides"
        yield key, refusal("own-bound-without-reason", "a reason is expected", bound=written)
    if bound.judge_by is None:
        yield written, refusal("own-bound-without-judge-by", "judge_by is expected", bound=written)


def _faults_without_bound(bound: Bound) -> Iterable[tuple[str, PydanticCustomError]]:
    if bound.source == OWN:
        yield "source", refusal("own-bound-missing", "a bound is expected", key="source: own")
    if bound.overrides is not None:
        yield "overrides", refusal("own-bound-missing", "a bound is expected", key=f"overrides: {bound.overrides}")


class Claim(OneBound):
    """A figure to verify: a supplier's or a standard's."""

    source: Sentence = Field(description="Who claims it, and where.")
    judge_by: Literal["estimate", "interval"] = Field(default="interval", description="What is held against the claim.")
    levels: tuple[LevelText, ...] | None = Field(default=None, description="Only these levels.")

    @model_validator(mode="after")
    def _has_a_bound(self) -> Self:
        if not self.bounds:
            self.refuse([("", refusal("claim-without-bound", "a bound is expected"))])
        return self


class Treatment(Model):
    """Rows of one table that are treated, by whom, when and why."""

    data: RelativePath = Field(description="The table, as a study names it.")
    sheet: SheetName | None = Field(default=None, description="Sheet of the workbook, where several are read.")
    where: dict[Label, CellText] = Field(
        min_length=1,
        description="Identifying column: its cell. Never row numbers.",
        json_schema_extra={"minProperties": 1},
    )
    by: Label = Field(description="Who decided.")
    on: Date = Field(description="When, as a date.")
    reason: Sentence = Field(description="Why; without a reason nothing is changed or left out.")

    @model_validator(mode="after")
    def _sheet_is_of_a_workbook(self) -> Self:
        if self.sheet is not None and not is_workbook(self.data):
            self.refuse([("sheet", refusal("sheet-of-no-workbook", "no such key is expected", file=self.data))])
        return self


class AmendmentSettings(Treatment):
    """A corrected value. Exactly one row is meant, and `old` is what its cell holds."""

    column: Label = Field(description="The column of the cell.")
    old: CellText = Field(description="The value as recorded.")
    new: CellText = Field(description="The value as corrected.")

    @model_validator(mode="after")
    def _changes_something(self) -> Self:
        if self.old == self.new:
            self.refuse([("new", refusal("nothing-amended", "another value is expected"))])
        return self


class ExclusionSettings(Treatment):
    """Rows left out of the figures as reported; they stay in the figures as recorded."""


class StudySettings(Model):
    """Keys that every study has."""

    levels_beyond_scope: ClassVar[bool] = False
    """True for a kind that looks outside the method's scope on purpose: near its lower end, for a detection limit."""

    kind: Label = Field(description="The kind of study.")
    title: Sentence | None = Field(default=None, description="Heading of the study in the dossier.")
    data: DataSource | None = Field(default=None, description="Absent until the bench work is done.")
    intended_use: Literal["quantitative", "screening"] | None = Field(
        default=None, description="What this study is about, where the protocol's `intended_use` says another thing."
    )
    accept: dict[Label, Bound] = Field(default_factory=dict, description="Finding: its bound.")
    minimum_design: tuple[Label, ...] = Field(
        default=(), description="Guides whose minimum design is held against this study."
    )

    @property
    def keeps_not_ready(self) -> bool:
        """Whether results not made while ready stay in the figures, marked, whatever `readiness` wants of others."""
        return False
