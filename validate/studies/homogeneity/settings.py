"""What a protocol says of homogeneity and stability: the units, σ_pt, and what follows when units are not alike."""

from __future__ import annotations

from typing import Any, Literal, Self

from pydantic import Field, ModelWrapValidatorHandler, model_validator
from pydantic_core import PydanticCustomError

from validate.protocol.fields import PositiveCount, PositiveNumber, Sentence
from validate.protocol.settings import OWN, Bound, Model, StudySettings
from validate.studies.homogeneity.kinds import SHARE

Consequence = Literal["widen", "refuse", "carry"]
CONSEQUENCE_WORDS: dict[str, str] = {
    "widen": "scores use σ′, which allows for unlike units",
    "refuse": "the material is not used",
    "carry": "the assigned value carries u_hom and u_stab in its uncertainty",
}
SIGMA_FORMS = ("value", "percent", "model")
JUDGED = ("s_sam_share", "stability_share")


class SigmaPt(Model):
    """The standard deviation by which results will be scored."""

    value: PositiveNumber | None = Field(default=None, description="In the method's unit.")
    percent: PositiveNumber | None = Field(default=None, description="In percent of the general mean.")
    model: Literal["horwitz", "horwitz-aoac", "thompson"] | None = Field(
        default=None, description="Predicted from the general mean as a mass fraction."
    )
    source: Sentence = Field(description="Who set it, and where.")

    @model_validator(mode="after")
    def _is_given_once(self) -> Self:
        written = [key for key in SIGMA_FORMS if getattr(self, key) is not None]
        if len(written) != 1:
            words = "σ_pt is given once: as value, as percent of the mean or by a model"
            self.refuse([(written[1] if written else "", PydanticCustomError("not-a-sigma", words))])
        return self


class Design(Model):
    """How many units, measured how often."""

    units: PositiveCount | None = Field(default=None, description="Units planned; ten or more.")
    replicates: PositiveCount = Field(default=2, description="Results planned for each unit; two or more.")


class StabilityDesign(Model):
    """The time for which the material has to stay as it is."""

    period: PositiveNumber = Field(description="Days from the homogeneity measurement to the last use.")


class HomogeneitySettings(StudySettings):
    """Keys of a study of kind `homogeneity`."""

    kind: Literal["homogeneity"]
    design: Design = Field(default=Design(), description="Units and replicates.")
    sigma_pt: SigmaPt = Field(description="Standard deviation for scores; everything is held against it.")
    when_not_sufficient: Consequence = Field(
        description="Decided beforehand for units that are not alike: widen σ, refuse the material, or carry u_hom."
    )
    stability: StabilityDesign | None = Field(
        default=None, description="Present when later occasions are measured to show that the material stays as it is."
    )

    @model_validator(mode="wrap")
    @classmethod
    def _is_held_against_sigma(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        """The rules of the schemes become criteria on the shares of σ_pt."""
        made = handler(data)
        words = "the bound on it follows from the published rules: leave it out here"
        made.refuse(
            ("accept", PydanticCustomError("bound-of-the-rule", f"{name}: {words}"))
            for name in JUDGED
            if name in made.accept
        )
        bounds = {"s_sam_share": {"at_most": str(SHARE), "reason": "published rules for units in a round"}}
        if made.stability is not None:
            ends = [str(-SHARE), str(SHARE)]
            bounds["stability_share"] = {"between": ends, "reason": "published rule, shown by the interval"}
        accept = {
            name: Bound.model_validate({**bound, "source": OWN, "judge_by": "interval"})
            for name, bound in bounds.items()
        }
        return made.model_copy(update={"accept": {**accept, **made.accept}})
