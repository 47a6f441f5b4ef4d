"""Keys of a proficiency round in the protocol: what is sent, how x_pt and σ_pt are set, what reaches whom."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from validate.protocol.fields import (
    Date,
    Label,
    Number,
    PositiveCount,
    PositiveNumber,
    RelativePath,
    Sentence,
    UnitText,
    YesNo,
)
from validate.protocol.settings import Model, StudySettings

Consensus = Literal["algorithm A", "Q method", "median, MADe", "median, nIQR", "kernel mode"]
By = Literal[
    "formulation",
    "certified value",
    "expert laboratories",
    "algorithm A",
    "Q method",
    "median, MADe",
    "median, nIQR",
    "kernel mode",
]
STATED = ("formulation", "certified value")
EXPERTS = "expert laboratories"
SEED = 20310303


def _refusal(words: str) -> PydanticCustomError:
    return PydanticCustomError("not-a-design", words)  # type: ignore[arg-type]


class AssignedValue(Model):
    """How the assigned value x_pt is set; chosen before the round."""

    by: By = Field(description="Where x_pt comes from: stated, from expert laboratories, or a consensus.")
    value: PositiveNumber | None = Field(default=None, description="x_pt, where it is stated.")
    u: Number | None = Field(default=None, description="Its standard uncertainty, in the same unit.")
    results: tuple[PositiveNumber, ...] = Field(default=(), description="Results of the expert laboratories.")
    source: Sentence | None = Field(default=None, description="Certificate, calculation, or who the experts are.")
    fallbacks: tuple[Consensus, ...] = Field(
        default=(), description="Consensus to use, in this order, where the first cannot be computed."
    )

    @model_validator(mode="after")
    def _is_complete(self) -> Self:
        faults = []
        stated = self.by in STATED or (self.by == EXPERTS and not self.results)
        if stated and (self.value is None or self.u is None):
            faults.append(("by", f"{self.by}: `value` and `u` are expected"))
        if not stated and self.value is not None:
            faults.append(("value", f"{self.by} gives the value: leave it out"))
        if self.results and self.by != EXPERTS:
            faults.append(("results", "only expert laboratories have `results` here"))
        if self.by == EXPERTS and len(self.results) == 1:
            faults.append(("results", "two expert laboratories or more are expected"))
        if (stated or self.by == EXPERTS) and self.source is None:
            faults.append(("by", f"{self.by}: a `source` is expected"))
        if self.u is not None and self.u < 0:
            faults.append(("u", "a standard uncertainty is 0 or more"))
        self.refuse((key, _refusal(words)) for key, words in faults)
        return self


class SigmaPt(Model):
    """σ_pt, the standard deviation that the scheme allows."""

    by: Literal[
        "prescribed", "horwitz", "horwitz-aoac", "thompson", "precision experiment", "earlier rounds", "this round"
    ] = Field(description="What sets it.")
    value: PositiveNumber | None = Field(default=None, description="σ_pt in the unit of the results.")
    percent: PositiveNumber | None = Field(default=None, description="σ_pt in percent of the assigned value.")
    factor: PositiveNumber = Field(default=1.0, description="Multiple of the predicted standard deviation.")
    s_R: PositiveNumber | None = Field(default=None, description="Reproducibility SD of the experiment.")
    s_r: PositiveNumber | None = Field(default=None, description="Repeatability SD of the experiment.")
    replicates: PositiveCount = Field(default=1, description="Results that a laboratory averages here.")
    source: Sentence | None = Field(default=None, description="Who set it, where; which experiment, which rounds.")

    @model_validator(mode="after")
    def _is_complete(self) -> Self:
        faults = []
        given = [key for key in ("value", "percent") if getattr(self, key) is not None]
        if self.by in ("prescribed", "earlier rounds"):
            if len(given) != 1:
                faults.append((given[-1] if given else "by", f"{self.by}: either `value` or `percent` is expected"))
        elif given:
            faults.append((given[0], f"{self.by} gives σ_pt: leave it out"))
        if self.by == "precision experiment" and (self.s_R is None or self.s_r is None):
            faults.append(("by", "a precision experiment: `s_R` and `s_r` are expected"))
        elif self.by == "precision experiment" and self.s_R < self.s_r:
            faults.append(("s_R", "s_R is not below s_r"))
        if self.by in ("prescribed", "earlier rounds", "precision experiment") and self.source is None:
            faults.append(("by", f"{self.by}: a `source` is expected"))
        self.refuse((key, _refusal(words)) for key, words in faults)
        return self


class MeasurandSettings(Model):
    """One of several measurands."""

    unit: UnitText | None = Field(default=None, description="Unit of its results, where not the method's.")
    assigned_value: AssignedValue | None = Field(default=None, description="Where not as for the others.")
    sigma_pt: SigmaPt | None = Field(default=None, description="Where not as for the others.")


class TargetSettings(Model):
    """One sample (of one measurand) that is treated otherwise."""

    sample: Label = Field(description="The sample.")
    measurand: Label | None = Field(default=None, description="The measurand, where there are several.")
    assigned_value: AssignedValue | None = Field(default=None, description="Its own assigned value.")
    sigma_pt: SigmaPt | None = Field(default=None, description="Its own σ_pt.")


class MaterialSettings(Model):
    """The study that examined the material of some samples, and what follows when units are not alike."""

    study: Label = Field(description="A study of kind `homogeneity` of this protocol.")
    samples: tuple[Label, ...] = Field(min_length=1, description="The samples made of this material.")
    when_not_sufficient: Literal["widen", "refuse", "carry"] = Field(
        description="Decided beforehand: widen σ_pt by s_sam, refuse scores, or carry u_hom and u_stab in u(x_pt)."
    )


class Items(Model):
    """What the report of a round says of its items and dates."""

    preparation: Sentence = Field(description="How the items were prepared, filled, packed and stored.")
    homogeneity: Sentence | None = Field(default=None, description="Who examined it and where, if not a study here.")
    stability: Sentence | None = Field(default=None, description="As for homogeneity.")
    sent: Date | None = Field(default=None, description="Day of dispatch.")
    results_until: Date | None = Field(default=None, description="Last day for results.")


class Commentary(Model):
    """What a named person says of the round."""

    by: Label = Field(description="Name and function.")
    text: Sentence = Field(description="The comment.")


class ProficiencyRoundSettings(StudySettings):
    """Keys of a study of kind `proficiency_round`."""

    kind: Literal["proficiency_round"]
    round: Label = Field(description="Short identification of the round.")
    status: Literal["preliminary", "final"] = Field(description="Status of the report.")
    layout: Literal["long", "wide"] = Field(
        default="long", description="One result in each row, or one laboratory in each row."
    )
    samples: tuple[Label, ...] = Field(min_length=1, description="Identifications of the samples that were sent.")
    measurands: dict[Label, MeasurandSettings] = Field(
        default_factory=dict, description="Name: settings; absent, the protocol's own measurand is the only one."
    )
    assigned_value: AssignedValue = Field(description="How x_pt is set, unless said otherwise below.")
    sigma_pt: SigmaPt = Field(description="How σ_pt is set, unless said otherwise below.")
    targets: tuple[TargetSettings, ...] = Field(default=(), description="Samples that are treated otherwise.")
    score: Literal["z", "z prime"] = Field(
        default="z", description="The score that classifies where a consensus is uncertain (u above 0.3 σ_pt)."
    )
    materials: tuple[MaterialSettings, ...] = Field(default=(), description="Homogeneity studies behind the samples.")
    laboratories: PositiveCount | None = Field(default=None, description="Laboratories expected, for the design.")
    items: Items | None = Field(default=None, description="Preparation, homogeneity, stability and dates.")
    instructions: Sentence | None = Field(default=None, description="What the laboratories were told to do.")
    commentary: tuple[Commentary, ...] = Field(default=(), description="Comments of named persons on the round.")
    show_comments: YesNo = Field(
        default=False, description="`yes`: the laboratories' own comments reach the coded report and their own page."
    )
    show_reasons: YesNo = Field(
        default=False,
        description="`yes`: why results were corrected or left out, and who decided, reaches the coded report.",
    )
    earlier_rounds: tuple[RelativePath, ...] = Field(
        default=(), description="Evaluations (evaluation.json) of earlier rounds, copied into the folder; oldest first."
    )
    seed: PositiveCount = Field(default=SEED, description="Seed of the bootstrap of modes.")

    @model_validator(mode="after")
    def _names_fit(self) -> Self:
        faults = [
            (key, f"{name!r} stands twice")
            for key, names in (("samples", self.samples), ("earlier_rounds", self.earlier_rounds))
            for i, name in enumerate(names)
            if name in names[:i]
        ]
        for target in self.targets:
            if target.sample not in self.samples:
                faults.append(("targets", f"{target.sample!r} is none of `samples`"))
            if (target.measurand is None) == bool(self.measurands) or (
                target.measurand is not None and target.measurand not in self.measurands
            ):
                faults.append(("targets", "name one of `measurands`; leave it out where there are none"))
        covered = [sample for material in self.materials for sample in material.samples]
        faults += [("materials", f"{s!r} is none of `samples`") for s in covered if s not in self.samples]
        faults += [("materials", f"{s!r} stands twice") for i, s in enumerate(covered) if s in covered[:i]]
        self.refuse((key, _refusal(words)) for key, words in faults)
        return self
