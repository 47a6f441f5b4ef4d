"""What a protocol may say of the bench plan: seed of the order, pipettes, what is assumed of the method."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from validate.protocol.fields import Count, Number, PositiveNumber, Volume, refusal
from validate.protocol.settings import Model


class Pipette(Model):
    """The volumes that one pipette delivers."""

    from_: Volume = Field(alias="from", description="Smallest volume that it delivers well enough.")
    to: Volume = Field(description="Largest volume.")

    @model_validator(mode="after")
    def _is_a_range(self) -> Self:
        if self.from_.to("mL") >= self.to.to("mL"):
            low, high = self.from_.text, self.to.text
            self.refuse([("from", refusal("pipette-reversed", "a smaller volume is expected", low=low, high=high))])
        return self


class Assume(Model):
    """What the plan supposes of the method to foresee the chance of each verdict."""

    rsd_percent: PositiveNumber | None = Field(
        default=None, description="Expected RSD of single results within a day, in percent."
    )
    variance_ratio: Number | None = Field(
        default=None, description="Variance between days over variance within a day; 1 when absent."
    )
    power_percent: PositiveNumber | None = Field(
        default=None, description="Wanted chance that all criteria of a study are met together; 80 when absent."
    )

    @model_validator(mode="after")
    def _is_possible(self) -> Self:
        faults = []
        if self.variance_ratio is not None and self.variance_ratio < 0:
            faults.append(("variance_ratio", refusal("negative-variance-ratio", "a number of 0 or more is expected")))
        if self.power_percent is not None and self.power_percent >= 100:
            faults.append(("power_percent", refusal("impossible-power", "a number below 100 is expected")))
        self.refuse(faults)
        return self


class BenchPlan(Model):
    """Keys for `validate plan`."""

    seed: Count | None = Field(
        default=None, description="Seed of the random order; made from id and edition when absent."
    )
    pipettes: tuple[Pipette, ...] = Field(
        default=(), max_length=20, description="Pipettes at hand; three common sizes are assumed when absent."
    )
    assume: Assume = Field(default=Assume(), description="What is supposed of the method.")
