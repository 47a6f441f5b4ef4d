"""The whole protocol as a checked model: purpose, method, materials, criteria, studies.

What no study uses (rules on readiness without a run log, some materials) is checked for
its form and kept; `recorded.py` lists it.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, SerializeAsAny, WithJsonSchema, model_validator

from validate.protocol.bench import BenchPlan
from validate.protocol.fields import (
    Date,
    Label,
    MassOrVolume,
    Number,
    PositiveNumber,
    QuantityText,
    Sentence,
    UnitText,
    Volume,
    YesNo,
    one_or_many,
    refusal,
)
from validate.protocol.readiness import Readiness, RunLogOrFile
from validate.protocol.settings import (
    OWN,
    AmendmentSettings,
    Claim,
    ExclusionSettings,
    Model,
    StudySettings,
)
from validate.protocol.superseding import SupersedesOrTitle
from validate.vocabulary.quantity import conversion_factor

STUDY_NAME_PATTERN = r"^[a-z0-9]+(-[a-z0-9]+)*$"
_LONGEST_STUDY_NAME = 60


def _read_format(text: Any) -> Any:
    if text == "1":
        return 1
    raise refusal("unknown-format", "1 is expected")


def _is_study_name(name: str) -> str:
    parts = name.split("-")
    plain = all(part and part.isascii() and part.isalnum() and part == part.lower() for part in parts)
    if not plain or len(name) > _LONGEST_STUDY_NAME:
        raise refusal("bad-study-name", "lower-case letters, digits and single hyphens are expected")
    return name


Format = Annotated[Literal[1], BeforeValidator(_read_format), WithJsonSchema({"enum": [1, "1"]})]
StudyName = Annotated[str, AfterValidator(_is_study_name)]


class Origin(Model):
    """Where the data come from."""

    data: Literal["invented", "measured", "published"] = Field(description="Demo data are `invented` and say so.")
    statement: Sentence | None = Field(
        default=None, description="What a reader must know; the source of published data."
    )

    @model_validator(mode="after")
    def _names_its_source(self) -> Self:
        if self.data == "published" and self.statement is None:
            self.refuse([("data", refusal("published-without-source", "a source is expected"))])
        return self


class People(Model):
    """Who stands for the work; the sign-off block of the dossier."""

    planned: Label | None = None
    measured: Label | None = None
    checked: Label | None = None
    approved: Label | None = None


class Reading(Model):
    """What the instrument's display can show."""

    resolution: PositiveNumber | None = Field(
        default=None, description="Smallest step of the display, in the method's unit."
    )
    floor: Number | None = Field(default=None, description="Lowest reading that is shown, in the method's unit.")


class Dilution(Model):
    """A dilution step."""

    take: Volume = Field(description="Volume taken.")
    add: Volume = Field(description="Volume added to it.")


class DilutionTolerances(Model):
    """Tolerances of a dilution step."""

    take: Volume | None = Field(default=None, description="± of the volume taken.")
    add: Volume | None = Field(default=None, description="± of the volume added.")


class PortionTolerances(Model):
    """± of balance and glassware, step by step; a step that is not named has none."""

    weigh: MassOrVolume | None = Field(default=None, description="± of the test portion.")
    extract_in: Volume | None = Field(default=None, description="± of the extraction volume.")
    dilute: Annotated[tuple[DilutionTolerances, ...], BeforeValidator(one_or_many)] = Field(
        default=(), description="± of the dilutions, in their order."
    )
    load: Volume | None = Field(default=None, description="± of the volume loaded.")
    elute_in: Volume | None = Field(default=None, description="± of the volume of the eluate.")
    distribution: Literal["rectangular", "triangular"] = Field(
        default="rectangular", description="Triangular where values near the nominal one are more likely."
    )
    source: Sentence | None = Field(default=None, description="Certificate, class of the glassware, own.")


class Portion(Model):
    """From the weighed sample to what is read: the steps in the order in which they are done."""

    weigh: MassOrVolume = Field(description="Test portion.")
    extract_in: Volume | None = Field(default=None, description="Volume of extraction solvent.")
    dilute: Annotated[tuple[Dilution, ...], BeforeValidator(one_or_many)] = Field(
        default=(), description="One dilution, or a list of them in order."
    )
    filter: Volume | None = Field(default=None, description="Volume filtered of the last (diluted) extract.")
    load: Volume | None = Field(default=None, description="Volume put on the column or device.")
    elute_in: Volume | None = Field(default=None, description="Volume of the eluate.")
    tolerances: PortionTolerances | None = Field(default=None, description="± of balance and glassware.")

    @model_validator(mode="after")
    def _tolerances_have_their_steps(self) -> Self:
        if self.tolerances is not None:
            self.refuse(self._faults_of_tolerances(self.tolerances))
        return self

    def _faults_of_tolerances(self, tolerances: PortionTolerances) -> list[tuple[str, Any]]:
        lacking = [
            name
            for name in ("extract_in", "load", "elute_in")
            if getattr(tolerances, name) is not None and getattr(self, name) is None
        ]
        if len(tolerances.dilute) > len(self.dilute):
            lacking.append("dilute")
        faults = [
            ("tolerances", refusal("tolerance-without-step", "a step of the portion is expected", step=name))
            for name in lacking
        ]
        if tolerances.weigh is not None:
            try:
                conversion_factor(tolerances.weigh.unit, self.weigh.unit)
            except ValueError:
                expected = refusal("tolerance-in-other-unit", "the unit of the portion", unit=self.weigh.unit)
                faults.append(("tolerances", expected))
        return faults


class Scope(Model):
    """The range that the method is meant for, in its unit."""

    from_: Number = Field(alias="from", description="Lowest level.")
    to: Number = Field(description="Highest level.")

    @model_validator(mode="after")
    def _is_a_range(self) -> Self:
        if self.from_ >= self.to:
            low, high = f"{self.from_:g}", f"{self.to:g}"
            self.refuse([("from", refusal("scope-reversed", "a lower number is expected", low=low, high=high))])
        if self.from_ < 0:
            self.refuse([("from", refusal("negative-level", "a level of 0 or more is expected"))])
        return self


class Limit(Model):
    """The limit that results are held against, in the method's unit."""

    value: PositiveNumber = Field(description="The limit.")
    source: Sentence = Field(description="`own`, or the regulation or specification that sets it.")
    reason: Sentence | None = Field(default=None, description="Why, for an own limit.")

    @model_validator(mode="after")
    def _gives_its_reason(self) -> Self:
        if self.source == OWN and self.reason is None:
            self.refuse([("source", refusal("own-limit-without-reason", "a reason is expected"))])
        return self


class MethodSettings(Model):
    """What is measured, in what, how, over which range."""

    measurand: Sentence = Field(description="As it is measured: 'total aflatoxins as read by fluorescence'.")
    matrix: Sentence = Field(description="What is examined.")
    unit: UnitText = Field(description="Unit of results, for example µg/kg.")
    basis: Sentence | None = Field(default=None, description="As received, dry matter …")
    principle: Sentence | None = Field(default=None, description="How it is measured, in one sentence.")
    defined_by_method: YesNo = Field(
        default=False, description="`yes` when the measurand exists only through its method: Horwitz does not apply."
    )
    reading: Reading | None = Field(default=None, description="Resolution and floor of the display.")
    portion: Portion | None = Field(default=None, description="Test portion and its preparation.")
    scope: Scope | None = Field(default=None, description="Range of the method.")
    limit: Limit | None = Field(default=None, description="The limit that matters for decisions.")


class Material(Model):
    """A standard, certified material or sample."""

    kind: Label = Field(description="Solution, certified material, sample …")
    certificate: Label | None = Field(default=None, description="Number of the certificate, or `invented`.")
    value: QuantityText | None = Field(default=None, description="Stated value with its unit.")
    U: QuantityText | None = Field(default=None, description="Expanded uncertainty: in the unit of the value, or in %.")
    k: PositiveNumber | None = Field(default=None, description="Coverage factor of U.")
    expires: Date | None = Field(default=None, description="Last day of use.")
    preparation: Sentence | None = Field(default=None, description="How it was prepared, from what.")
    storage: Sentence | None = Field(default=None, description="How it is kept.")
    note: Sentence | None = None

    @model_validator(mode="after")
    def _is_consistent(self) -> Self:
        if self.U is not None:
            self.refuse(self._faults_of_uncertainty())
        return self

    def _faults_of_uncertainty(self) -> list[tuple[str, Any]]:
        faults = []
        if self.k is None:
            faults.append(("U", refusal("uncertainty-without-k", "k is expected")))
        if self.U.value < 0:
            faults.append(("U", refusal("not-positive", "a quantity above zero is expected")))
        if self.value is None:
            faults.append(("U", refusal("uncertainty-without-value", "a value is expected")))
        elif self.U.unit != "%":
            try:
                conversion_factor(self.U.unit, self.value.unit)
            except ValueError:
                faults.append(
                    ("U", refusal("uncertainty-in-other-unit", "the unit of the value", unit=self.value.unit))
                )
        return faults


class Protocol(Model):
    """A validation protocol, written before the work."""

    format: Format = Field(description="Version of this file's form: 1.")
    id: Label = Field(description="Short identification, on every page of the dossier.")
    edition: Label = Field(default="1", description="Edition of this protocol.")
    title: Sentence
    issued: Date = Field(description="Day on which this edition was issued.")
    origin: Origin | None = Field(default=None, description="Where the data come from.")
    laboratory: Sentence
    people: People = Field(default=People(), description="Who planned, measured, checked, approved.")
    purpose: Literal["verification", "validation", "extension", "lot", "revalidation", "round"] = Field(
        description="Decides which characteristics are expected, and so what counts as a gap."
    )
    intended_use: Literal["quantitative", "screening"] = Field(description="A result, or a decision against a limit.")
    supersedes: SupersedesOrTitle | None = Field(
        default=None, description="The protocol or dossier that this one replaces."
    )
    method: MethodSettings
    materials: dict[Label, Material] = Field(
        default_factory=dict, description="Name: standard, certified material, sample."
    )
    readiness: Readiness | None = Field(default=None, description="When a run may be used.")
    runs: RunLogOrFile | None = Field(default=None, description="Run log: CSV file or XLSX workbook.")
    plan: BenchPlan | None = Field(default=None, description="For the bench sheet: seed, pipettes, assumptions.")
    use: Annotated[tuple[Label, ...], BeforeValidator(one_or_many)] = Field(
        default=(), description="Published set of criteria, or a list of them."
    )
    claims: dict[Label, Claim] = Field(default_factory=dict, description="Finding: the figure to verify.")
    studies: dict[StudyName, SerializeAsAny[StudySettings]] = Field(
        min_length=1, description="Name: one question about the method."
    )
    amendments: tuple[AmendmentSettings, ...] = Field(default=(), description="Corrected values; both stay.")
    exclusions: tuple[ExclusionSettings, ...] = Field(default=(), description="Rows left out, with a reason.")
