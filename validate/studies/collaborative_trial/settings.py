"""What a protocol says of a collaborative trial: levels, laboratories, what each laboratory was asked for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from validate.protocol.fields import LevelText, PositiveCount
from validate.protocol.settings import Model, StudySettings
from validate.studies.collaborative_trial.kinds import HORRATS, OF_COUNTS, SHOWN_HORRATS, HorratName

UNIFORM, SPLIT, BINARY = "uniform", "split", "binary"
OF_UNIFORM = ("mean", "s_r", "rsd_r", "r", "s_L", "s_reproducibility", "rsd_reproducibility", "R")


class Design(Model):
    """What every laboratory was asked for."""

    kind: Literal["uniform", "split", "binary"] = Field(
        default="uniform",
        description="uniform: repeated results at each level; split: one result on each of two nearly equal samples "
        "(Youden pairs); binary: counts of detections.",
    )
    levels: tuple[LevelText, ...] = Field(
        min_length=1, description="Declared levels, in the method's unit.", json_schema_extra={"minItems": 1}
    )
    laboratories: PositiveCount | None = Field(default=None, description="Laboratories planned.")
    runs: PositiveCount | None = Field(
        default=None, description="Runs (batches, days) planned in each laboratory; the table then has a column `run`."
    )
    replicates: PositiveCount | None = Field(
        default=None, description="Results planned in each laboratory at each level (in each run where there are runs)."
    )

    @model_validator(mode="after")
    def _is_a_design(self) -> Self:
        self.refuse((key, PydanticCustomError("not-a-design", words)) for key, words in self._faults())  # type: ignore[arg-type]
        return self

    def _faults(self) -> Iterator[tuple[str, str]]:
        if len(set(self.levels)) != len(self.levels):
            yield "levels", "every level stands once"
        if self.kind != UNIFORM and self.runs is not None:
            yield "runs", "runs belong to kind: uniform"
        if self.kind == SPLIT and self.replicates is not None:
            yield "replicates", "a split level has one result on each of its two samples"


class CollaborativeTrialSettings(StudySettings):
    """Keys of a study of kind `collaborative_trial`."""

    kind: Literal["collaborative_trial"]
    design: Design = Field(description="Levels, laboratories, runs, replicates.")
    horrat: tuple[HorratName, ...] = Field(
        default=SHOWN_HORRATS, description="HorRat forms to show, each with its denominator and model in its name."
    )

    @property
    def names(self) -> tuple[str, ...]:
        """The findings that the design gives."""
        if self.design.kind == BINARY:
            return OF_COUNTS
        inner = ("s_intermediate", "rsd_intermediate") if self.design.runs is not None else ()
        return (*OF_UNIFORM, *inner, *self.horrats)

    @property
    def horrats(self) -> tuple[str, ...]:
        """The HorRat forms to show and those that a criterion names."""
        return tuple(name for name in HORRATS if name in self.horrat or name in self.accept)
