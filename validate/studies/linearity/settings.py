"""Keys of a linearity study in the protocol, and the columns of its table."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from validate.protocol.fields import Count, Label, LevelText, Number, PositiveNumber, Range, YesNo
from validate.protocol.settings import Model, StudySettings
from validate.tables.table import Column

SIGNAL = "signal"
FOUND = "found against nominal"
SET_POINTS = "set points"
NO_WEIGHTS = "none"
BY_FUNCTION = "variance function"
POWERS = {"1/x": 1.0, "1/x^2": 2.0}
"""Relative weights and their power of the level."""
RESOLUTION_SHARE = 0.5
"""A standard deviation below this share of the reading's resolution gets no verdict."""
FEWEST_LEVELS = 5
"""Levels above 0 without which the straightness of a line gets no verdict (common practice, no source)."""


class Design(Model):
    """What the bench is to do."""

    levels: tuple[LevelText, ...] = Field(
        min_length=1, max_length=50, description="Contents of the standards in the method's unit, 0 for the blank."
    )
    replicates: Count = Field(description="Results per level on each day (per level in all when no days are planned).")
    days: Count | None = Field(default=None, description="Days on which every level is measured.")


class Signal(Model):
    """What the instrument shows, where it is no content."""

    name: Label = Field(default="signal", description="In words, for axes and tables.")
    unit: str = Field(default="", max_length=40, description="Unit as printed; empty for a number without one.")
    resolution: PositiveNumber | None = Field(default=None, description="Smallest step of the display.")
    blank_subtracted: YesNo = Field(
        default=False, description="Whether a blank was subtracted, so that a signal may be below 0."
    )


class VarianceFunction(Model):
    """s(x)² = constant² + (relative_percent·x/100)², in the method's unit; known before the study."""

    constant: PositiveNumber = Field(description="Standard deviation near level 0, in the method's unit.")
    relative_percent: PositiveNumber = Field(description="Relative standard deviation at high levels, in percent.")


class LinearitySettings(StudySettings):
    """Study of the line between level and signal, or between nominal and found content."""

    kind: Literal["linearity"]
    form: Literal["signal", "found against nominal", "set points"] = Field(
        default=SIGNAL,
        description="`signal`: the instrument shows a signal; `found against nominal`: it shows a content; "
        "`set points`: a record of its readings of check standards, without a line.",
    )
    design: Design = Field(description="Levels, replicates and days as planned.")
    signal: Signal = Field(default=Signal(), description="Name, unit and step of the signal.")
    weights: Literal["none", "1/x", "1/x^2", "variance function"] = Field(
        default=NO_WEIGHTS, description="`none`: equal scatter at all levels; `1/x^2`: equal relative scatter."
    )
    weight_floor: PositiveNumber | None = Field(
        default=None, description="Level below which relative weights do not rise any more; needed with level 0."
    )
    variance_function: VarianceFunction | None = Field(
        default=None, description="How the standard deviation depends on the level; its inverse square is the weight."
    )
    through_origin: YesNo = Field(default=False, description="Whether the line is forced through the origin.")
    read_back: tuple[Number, ...] = Field(
        default=(), max_length=50, description="Signals whose content is read from the line, with limits."
    )
    allowed: dict[LevelText, Range] = Field(
        default_factory=dict, description="Set point: allowed range of its readings, where a document states one."
    )


LEVEL = Column(role="level", title="content of the standard", type="level", unit="method", minimum=0)
SIGNAL_COLUMN = Column(role="signal", title="signal as read", type="number")
FOUND_COLUMN = Column(role="found", title="content as the instrument shows it", type="number", unit="method",
                      censored=True)  # fmt: skip
DATE = Column(role="date", title="date of the reading", type="date")
CONDITIONS = (
    Column(role="sample", title="number of the solution, one for each result", type="label", required=False,
           identifies=True),
    Column(role="day", title="day of measurement", type="label", required=False),
    Column(role="run", title="bench session", type="label", required=False),
    Column(role="analyst", title="who measured", type="label", required=False),
    Column(role="replicate", title="number of the replicate within level and day", type="label", required=False),
    Column(role="instrument", title="instrument", type="label", required=False),
    Column(role="preparation", title="independent preparation of the standards", type="label", required=False),
    Column(role="lot", title="lot of the standard or reagent", type="label", required=False),
)  # fmt: skip
COLUMNS = (LEVEL, SIGNAL_COLUMN, *CONDITIONS)
FACTORS = (
    ("days", "day"),
    ("runs", "run"),
    ("analysts", "analyst"),
    ("instruments", "instrument"),
    ("preparations", "preparation"),
    ("lots", "lot"),
)


def columns_of(settings: LinearitySettings) -> tuple[Column, ...]:
    """The columns that belong to the form of the study."""
    if settings.form == SIGNAL:
        return COLUMNS
    dates = (DATE,) if settings.form == SET_POINTS else ()
    return (LEVEL, FOUND_COLUMN, *dates, *CONDITIONS)


def declared_levels(settings: LinearitySettings) -> tuple[str, ...]:
    """The levels above 0, in the order of the protocol: a percentage of level 0 does not exist."""
    return tuple(level for level in settings.design.levels if float(level) > 0)


def reading_role(settings: LinearitySettings) -> str:
    """The column that holds what was read."""
    return "signal" if settings.form == SIGNAL else "found"


def reading_resolution(settings: LinearitySettings, of_method: float | None) -> float | None:
    """The step of the display, in the unit of the reading."""
    return settings.signal.resolution if settings.form == SIGNAL else of_method
