"""The part of a protocol that every study shares: data source, criteria, design.

A study's `settings.py` or `study.py` derives its own model from `StudySettings` and adds
its keys. All models refuse unknown keys; every scalar arrives as text and is converted by
its declared type (see `fields.py`).
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from validate.protocol.fields import (
    Count,
    Label,
    LevelText,
    Number,
    RelativePath,
    Sentence,
    UnitText,
)


class Model(BaseModel):
    """Base of every part of a protocol: unknown keys are refused, values cannot change."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class DataSource(Model):
    """Where a study's table is and how it is written."""

    file: RelativePath = Field(description="CSV file in the protocol's folder.")
    columns: dict[Label, Label] = Field(
        default_factory=dict,
        description="Column of the study: name of the column in the file, where they differ.",
    )
    units: dict[Label, UnitText] = Field(
        default_factory=dict, description="Unit of a column where it is not the expected one."
    )
    decimal: Literal[".", ","] | None = Field(default=None, description="Decimal sign; detected when absent.")
    delimiter: Literal[",", ";", "tab"] | None = Field(default=None, description="Column separator; detected when absent.")
    encoding: Literal["utf-8", "cp1252"] | None = Field(default=None, description="Text encoding; detected when absent.")


class Bound(Model):
    """A bound on a finding. Without a bound the set named under `use` gives it."""

    per: Literal["level", "study"] | None = Field(default=None, description="Judge each level, or the study as a whole.")
    levels: tuple[LevelText, ...] | None = Field(default=None, description="Only these levels.")
    at_most: Number | None = None
    at_least: Number | None = None
    between: tuple[Number, Number] | None = None
    judge_by: Literal["estimate", "interval"] | None = Field(
        default=None, description="What is held against the bound; comes from the set, must be given with an own bound."
    )
    source: Label | None = Field(default=None, description="`own`, or the set that gives the bound.")
    overrides: Label | None = Field(default=None, description="The set whose bound is replaced; needs a reason.")
    reason: Sentence | None = Field(default=None, description="Why the laboratory set this bound itself.")
    minimum_n: Count | None = Field(default=None, description="Fewest results for a verdict.")
    minimum_groups: Count | None = Field(default=None, description="Fewest days (or laboratories) for a verdict.")


class Claim(Model):
    """A figure to verify: a supplier's or a standard's."""

    at_most: Number | None = None
    at_least: Number | None = None
    between: tuple[Number, Number] | None = None
    source: Sentence
    judge_by: Literal["estimate", "interval"] = "interval"
    levels: tuple[LevelText, ...] | None = None


class StudySettings(Model):
    """Keys that every study has."""

    kind: Label
    title: Sentence | None = None
    data: DataSource | None = Field(default=None, description="Absent until the bench work is done.")
    accept: dict[Label, Bound] = Field(default_factory=dict, description="Finding: its bound.")
    minimum_design: tuple[Label, ...] = Field(default=(), description="Guides whose minimum design is held against this study.")
