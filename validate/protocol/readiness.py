"""The rules on readiness and the run log, as a protocol writes them.

Nothing is built in: a rule that is not written is not applied, and each names its source.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, BeforeValidator, Field, WithJsonSchema, model_serializer, model_validator

from validate.protocol.fields import (
    Duration,
    Label,
    RelativePath,
    Sentence,
    UnitText,
    quantity_of,
    read_relative_path,
    refusal,
)
from validate.protocol.settings import DataSource, Model, OneBound

_DURATION = quantity_of("12 h or 10 d", "h")
WhenNot = Literal["exclude", "mark", "stop"]


def _read_time_zone(text: Any) -> str:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    expected = "a time zone such as Europe/Vienna is expected"
    if not isinstance(text, str) or not re.fullmatch(r"[A-Za-z0-9_+-]{1,32}(/[A-Za-z0-9_+-]{1,32}){0,2}", text.strip()):
        raise refusal("unknown-time-zone", expected)
    try:
        return ZoneInfo(text.strip()).key
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise refusal("unknown-time-zone", expected) from error


def _alone_as(key: str, check: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """A text or a list alone stands for the group with this one key; what is wrong with it is told of it."""

    def read(value: Any) -> Any:
        if isinstance(value, (dict, BaseModel)):
            return value
        check(value)
        return {key: value}

    return read


def _check_items(value: Any) -> None:
    if not isinstance(value, list) or not all(isinstance(item, str) and 0 < len(item.strip()) <= 80 for item in value):
        raise refusal("not-a-list", "a list of names is expected")


class Sourced(Model):
    """A rule and where it comes from."""

    source: Sentence | None = Field(
        default=None, description="Supplier's sheet, standard, or own; the source of all rules when absent."
    )


class CalibrationAge(Sourced):
    """How old a calibration may be."""

    not_older_than: Duration = Field(description="Longest time between calibration and reading.")


class ReadinessBound(OneBound, Sourced):
    """What a check reading or another recorded quantity must be."""

    unit: UnitText | None = Field(default=None, description="Unit of the bound; the column is converted to it.")

    @model_validator(mode="after")
    def _has_a_bound(self) -> Self:
        if not self.bounds:
            self.refuse([("", refusal("check-without-bound", "a bound is expected"))])
        return self


class ShelfLife(Sourced):
    """How long a prepared solution or an opened concentrate may be used."""

    lasts: Duration = Field(description="Hours after mixing, days after opening.")
    counted_from: Literal["mixing", "opening"] | None = Field(
        default=None, description="What starts the time; absent: the one that the run log records."
    )

    @model_serializer(mode="wrap")
    def _as_written(self, handler: Any) -> Any:
        """A bare duration stays one, so that the hash of a design does not depend on how it is kept."""
        plain = handler(self)
        return plain["lasts"] if self.model_fields_set == {"lasts"} else plain


class ReadingDelay(Sourced):
    """When a reading must follow the developer."""

    read_within: Duration = Field(description="Longest time from adding the developer to the reading.")


class Expiry(Sourced):
    """What must not have expired when it was used."""

    items: tuple[Label, ...] = Field(
        min_length=1, description="Kits, lots, standards: names as in the run log, or materials with a last day of use."
    )


class Readiness(Sourced):
    """When a run may be used. All times and readings stand in the run log."""

    calibration: CalibrationAge | None = Field(default=None, description="Age of the calibration.")
    check_standard: ReadinessBound | None = Field(default=None, description="Reading of the check standard.")
    water_blank: ReadinessBound | None = Field(default=None, description="Reading of the water blank.")
    reagent_blank: ReadinessBound | None = Field(default=None, description="Reading of the reagent blank.")
    limits: dict[Label, ReadinessBound] = Field(
        default_factory=dict, description="Any other quantity of the run log: flow, room temperature, set point."
    )
    shelf_life: dict[
        Label,
        Annotated[
            ShelfLife, BeforeValidator(_alone_as("lasts", _DURATION.func), json_schema_input_type=Duration | ShelfLife)
        ],
    ] = Field(default_factory=dict, description="Reagent: time from mixing or opening.")
    after_developer: ReadingDelay | None = Field(default=None, description="Time from developer to reading.")
    expiry: (
        Annotated[
            Expiry, BeforeValidator(_alone_as("items", _check_items), json_schema_input_type=list[Label] | Expiry)
        ]
        | None
    ) = Field(default=None, description="Kits, lots and standards that have a last day of use.")
    when_not_ready: WhenNot | None = Field(
        default=None,
        description="Results of a run that was not ready: left out, kept and marked (the default), or refused.",
    )
    when_cannot_be_told: WhenNot | None = Field(
        default=None, description="Results whose readiness the records do not tell: as above; marked when absent."
    )


TimeZone = Annotated[str, BeforeValidator(_read_time_zone), WithJsonSchema({"type": "string", "maxLength": 98})]


class RunLog(DataSource):
    """Where the run log is, how it is written, and in which time zone."""

    time_zone: TimeZone | None = Field(
        default=None, description="Of times without an offset, in log and tables: Europe/Vienna, UTC."
    )


RunLogOrFile = Annotated[
    RunLog, BeforeValidator(_alone_as("file", read_relative_path), json_schema_input_type=RelativePath | RunLog)
]
