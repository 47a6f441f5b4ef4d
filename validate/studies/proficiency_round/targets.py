"""The targets of a round (a measurand in a sample) and the columns of its table."""

from __future__ import annotations

from dataclasses import dataclass, replace

from validate.studies.proficiency_round.settings import AssignedValue, ProficiencyRoundSettings, SigmaPt
from validate.tables.table import Column

LABORATORY = Column(role="laboratory", title="code of the laboratory", type="label")
SAMPLE = Column(role="sample", title="sample as sent", type="label")
MEASURAND = Column(role="measurand", title="measurand", type="label", required=False)
REPLICATE = Column(role="replicate", title="number of the replicate", type="label", required=False)
RESULT = Column(role="result", title="result as reported", type="number", unit="method", censored=True)
UNIT = Column(role="unit", title="unit as reported, where not the expected one", type="label", required=False)
METHOD = Column(role="method", title="method in the laboratory's words", type="label", required=False)
UNCERTAINTY = Column(
    role="uncertainty",
    title="expanded uncertainty U as reported",
    type="number",
    unit="method",
    required=False,
    minimum=0.0,
    censored=True,
)
COVERAGE = Column(
    role="k", title="coverage factor of U", type="number", unit="1", required=False, minimum=0.0, censored=True
)
LOQ = Column(
    role="loq",
    title="limit of quantification as reported",
    type="number",
    unit="method",
    required=False,
    minimum=0.0,
    censored=True,
)
COMMENT = Column(role="comment", title="free comment", type="label", required=False)
COLUMNS = (LABORATORY, SAMPLE, MEASURAND, REPLICATE, RESULT, UNIT, METHOD, UNCERTAINTY, COVERAGE, LOQ, COMMENT)
"""The long table."""
WIDE = (LABORATORY, REPLICATE, UNIT, METHOD, COVERAGE, COMMENT)
"""What a wide table has beside the columns of its targets."""
U_BEFORE, LOQ_BEFORE = "U ", "LOQ "


@dataclass(frozen=True)
class Target:
    """One measurand in one sample. `label` names it in findings: it is the `level` of a round."""

    label: str
    sample: str
    measurand: str
    unit: str
    assigned_value: AssignedValue
    sigma_pt: SigmaPt


def targets_of(settings: ProficiencyRoundSettings, measurand: str, unit: str) -> tuple[Target, ...]:
    """Every measurand in every sample, in the order of the protocol."""
    found = []
    for name, own in (settings.measurands or {measurand: None}).items():
        for sample in settings.samples:
            special = next(
                (t for t in settings.targets if t.sample == sample and (t.measurand or measurand) == name), None
            )
            layers = [layer for layer in (special, own, settings) if layer is not None]
            found.append(
                Target(
                    label=f"{name}, {sample}" if settings.measurands else sample,
                    sample=sample,
                    measurand=name,
                    unit=(own.unit if own else None) or unit,
                    assigned_value=next(x.assigned_value for x in layers if x.assigned_value is not None),
                    sigma_pt=next(x.sigma_pt for x in layers if x.sigma_pt is not None),
                )
            )
    return tuple(found)


def declared_labels(settings: ProficiencyRoundSettings) -> tuple[str, ...]:
    """The labels of all targets: what a criterion judges one by one."""
    return tuple(target.label for target in targets_of(settings, "", ""))


def columns_of(settings: ProficiencyRoundSettings) -> tuple[Column, ...]:
    """The columns of the declared layout; a wide table has one for each target."""
    if settings.layout == "long":
        measurand = replace(MEASURAND, required=bool(settings.measurands))
        return tuple(measurand if column is MEASURAND else column for column in COLUMNS)
    found = list(WIDE)
    for label in declared_labels(settings):
        found.append(replace(RESULT, role=label, title=f"result for {label}", required=False))
        found.append(replace(UNCERTAINTY, role=f"{U_BEFORE}{label}", title=f"expanded uncertainty for {label}"))
        found.append(replace(LOQ, role=f"{LOQ_BEFORE}{label}", title=f"limit of quantification for {label}"))
    return tuple(found)
