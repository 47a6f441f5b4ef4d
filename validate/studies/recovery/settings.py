"""Keys of a recovery study in the protocol, and the columns of its table."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from validate.protocol.fields import Label, LevelText, Number, PositiveCount, Sentence, YesNo, one_or_many
from validate.protocol.settings import Model, StudySettings
from validate.tables.table import Column

SPIKED_BEFORE = "spiked before extraction"
SPIKED_EXTRACT = "spiked extract"
NATURAL = "naturally contaminated"
CERTIFIED = "certified"
ROUND = "left from a round"
SPIKES = (SPIKED_BEFORE, SPIKED_EXTRACT)

DAY_AND_ANALYST = "day and analyst"
RESOLUTION_SHARE = 0.5
"""A standard deviation below this share of the reading's resolution gets no verdict."""
MINIMUM_RESULTS = 5
MINIMUM_DAYS = 5

HORRAT_KINDS = ("r-over-PRSD_R", "r-over-0.66-PRSD_R", "r-over-half-PRSD_R")
HORRAT_MODELS = ("horwitz", "horwitz-aoac", "thompson")


def horrat_name(kind: str, model: str) -> str:
    """The name that a criterion uses: a HorRat without kind and model says nothing."""
    return f"horrat_{kind}_{model}"


HORRATS = {horrat_name(kind, model): (kind, model) for kind in HORRAT_KINDS for model in HORRAT_MODELS}
SHOWN_HORRATS = (
    horrat_name("r-over-PRSD_R", "horwitz-aoac"),
    horrat_name("r-over-0.66-PRSD_R", "horwitz"),
    horrat_name("r-over-half-PRSD_R", "horwitz-aoac"),
)

HorratName = Literal[tuple(HORRATS)]  # type: ignore[valid-type]


class Design(Model):
    """What the bench is to do."""

    levels: tuple[LevelText, ...] = Field(
        min_length=1, max_length=50, description="Nominal levels in the method's unit: added, certified or assigned."
    )
    replicates: PositiveCount = Field(
        description="Results per level on each day (per level in all when no days are planned)."
    )
    days: PositiveCount | None = Field(default=None, description="Days on which every level is measured.")
    analysts: PositiveCount | None = Field(default=None, description="Analysts who share the work.")


class Native(Model):
    """What the unspiked sample already holds. One of: value with its error, rows, or column."""

    value: Number | None = Field(default=None, description="Native content in the method's unit.")
    u: Number | None = Field(default=None, description="Standard uncertainty of the native content.")
    s: Number | None = Field(default=None, description="Standard deviation of the results on the unspiked sample.")
    n: PositiveCount | None = Field(default=None, description="Number of results on the unspiked sample.")
    from_: Literal["rows", "column"] | None = Field(
        default=None,
        alias="from",
        description="`rows`: results with added 0 in the table; `column`: a native result beside each result.",
    )


class Correction(Model):
    """The factor by which results were divided before they were entered."""

    recovery_percent: Number = Field(description="Recovery that the results were corrected for, in percent.")
    origin: Sentence = Field(description="Where that recovery comes from.")


class RecoverySettings(StudySettings):
    """Study of recovery, bias and precision on samples of known content."""

    kind: Literal["recovery"]
    design: Design = Field(description="Levels, replicates, days and analysts as planned.")
    contamination: Literal[
        "spiked before extraction", "spiked extract", "naturally contaminated", "certified", "left from a round"
    ] = Field(description="How the samples came to their content.")
    spike_with: Annotated[tuple[Label, ...], BeforeValidator(one_or_many)] = Field(
        default=(),
        description="Material of this protocol that is added, or a list to choose from; "
        "every material of kind `solution` when absent.",
    )
    native: Native | None = Field(default=None, description="Content before spiking; absent means none was found.")
    relative_u_of_added_percent: Number = Field(
        default=0.0, description="Relative standard uncertainty of the added amount, in percent (standard, pipette)."
    )
    reference: dict[LevelText, Label] = Field(
        default_factory=dict, description="Level: material of this protocol that gives its value, U and k."
    )
    corrected_for_recovery: YesNo = Field(
        default=False, description="Whether the entered results were already corrected for recovery."
    )
    correction: Correction | None = Field(default=None, description="Needed when results were corrected.")
    group_by: Literal["day", "run", "analyst", "day and analyst"] | None = Field(
        default=None, description="What makes a run, between which intermediate precision is taken; chosen when absent."
    )
    horrat: tuple[HorratName, ...] = Field(
        default=SHOWN_HORRATS, description="HorRat forms to show, each with its denominator and model in its name."
    )


COLUMNS = (
    Column(role="added", title="nominal level of the sample: added, certified or assigned content", type="level",
           unit="method", minimum=0),
    Column(role="found", title="result as read", type="number", unit="method", censored=True),
    Column(role="sample", title="number of the test portion, one for each result", type="label", required=False,
           identifies=True),
    Column(role="day", title="day of measurement", type="label", required=False),
    Column(role="run", title="bench session", type="label", required=False),
    Column(role="analyst", title="who measured", type="label", required=False),
    Column(role="replicate", title="number of the replicate within level and day", type="label", required=False),
    Column(role="native", title="result on the unspiked sample that belongs to this result", type="number",
           unit="method", required=False, censored=True),
    Column(role="instrument", title="instrument", type="label", required=False),
    Column(role="lot", title="lot of kit, column or reagent", type="label", required=False),
    Column(role="calibration", title="calibration that was in force", type="label", required=False),
)  # fmt: skip

FACTORS = (
    ("days", "day"),
    ("runs", "run"),
    ("analysts", "analyst"),
    ("instruments", "instrument"),
    ("lots", "lot"),
    ("calibrations", "calibration"),
)


def declared_levels(settings: RecoverySettings) -> tuple[str, ...]:
    """The levels in the order of the protocol."""
    return settings.design.levels


def columns_of(settings: RecoverySettings) -> tuple[Column, ...]:
    """The columns; `native` must be there when the protocol takes the native content from it."""
    if settings.native is None or settings.native.from_ != "column":
        return COLUMNS
    return tuple(replace(column, required=True) if column.role == "native" else column for column in COLUMNS)


def wanted_horrats(settings: RecoverySettings) -> tuple[str, ...]:
    """The forms to show and those that a criterion of the study names, in the order of declaration."""
    return tuple(name for name in HORRATS if name in settings.horrat or name in settings.accept)
