"""An evaluation made by hand, so that the dossier can be tested without any study.

All figures are invented. `sample(text)` puts `text` into every field that takes free text.
"""

from __future__ import annotations

import dataclasses
import hashlib
from typing import Any

from tests.dossier.sample_study import LEVELS, TABLE, study
from validate.vocabulary.evaluation import (
    Amendment,
    CatalogueExcerpt,
    Clause,
    Conclusion,
    Criterion,
    Evaluation,
    Exclusion,
    Gap,
    InputFile,
    Judgement,
    LeftOneOut,
    MinimumDesign,
    PassChance,
    Recorded,
    Requirement,
    WiderBound,
)
from validate.vocabulary.reissue import Reissue, ReissuedFigure, ReissuedFile
from validate.vocabulary.seal import Seal, SealedChange, SealRevision, TimeEvidence
from validate.vocabulary.self_check import SelfCheckSummary
from validate.vocabulary.verdict import Evidence, JudgeBy, Verdict


def judged(verdict: Verdict, reason: str, evidence: Evidence | None = None, **more: Any) -> Judgement:
    return Judgement(verdict=verdict, reason=reason, evidence=evidence, **more)


def requirements() -> tuple[Requirement, ...]:
    worth = (
        PassChance(truth="0.75 of the bound", value=15.0, chance=0.89),
        PassChance(truth="the bound", value=20.0, chance=0.583),
        PassChance(truth="1.25 of the bound", value=25.0, chance=0.3304),
    )
    firm = judged(Verdict.MET, "The mean lies between the limits.", Evidence.FIRM)
    weak = judged(
        Verdict.MET,
        "The estimate is below the limit.",
        Evidence.LIMIT_WITHIN_INTERVAL,
        worth=worth,
        query="Lower than predicted.",
    )
    missed = judged(Verdict.NOT_MET, "The estimate is above the limit.")
    open_ = judged(Verdict.NOT_SHOWN, "6 results on 3 days; the criterion asks for 5 days.")
    table = {"mean_recovery": (firm, firm, firm, firm, open_), "rsd_r": (missed, weak, weak, weak, open_)}
    lines = []
    for finding, judgements in table.items():
        for level, judgement in zip(LEVELS, judgements, strict=True):
            spread = finding == "rsd_r"
            criterion = Criterion(
                kind="claim" if level == "40" else "criterion",
                study="recovery-in-coffee",
                finding=finding,
                level=level,
                low=None if spread else 70.0,
                high=17.29 if spread and level == "1" else 20.0 if spread else 120.0,
                unit="%",
                wording="at most 20 %" if spread else "70 % to 120 %",
                judge_by=JudgeBy.INTERVAL if level == "40" else JudgeBy.ESTIMATE,
                source="EU 2023/2782",
                edition="2023",
                clause="Annex II",
                reason="agreed with the buyer" if level == "40" else "",
                exception=WiderBound(low=50.0, high=130.0, when_met=("rsd_r",), wording="50 % to 130 %")
                if finding == "mean_recovery"
                else None,
                notes=("Applies to quantitative methods.",) if level == "1" else (),
            )
            changed = missed if level == "5" and spread else judgement
            lines.append(Requirement(criterion=criterion, as_reported=judgement, as_recorded=changed))
    return tuple(lines)


def protocol() -> dict[str, Any]:
    return {
        "format": "1",
        "id": "OTA-GC-01",
        "edition": "1",
        "title": "Ochratoxin A in green coffee, single-laboratory validation",
        "issued": "2031-03-03",
        "origin": {"data": "invented", "statement": "All figures and names were invented to show the dossier."},
        "laboratory": "Alder Ridge Growers' Laboratory (fictional)",
        "people": {"planned": "A. Example", "approved": "B. Example"},
        "purpose": "validation",
        "intended_use": "quantitative",
        "supersedes": "OTA-GC-00",
        "method": {
            "measurand": "ochratoxin A",
            "matrix": "green coffee",
            "basis": "as received",
            "unit": "µg/kg",
            "principle": "affinity column clean-up, fluorometer reading",
            "reading": {"resolution": 0.1, "floor": 0.0},
            "scope": {"from": 1.0, "to": 40.0},
            "limit": {"value": 5.0, "source": "own", "reason": "purchase specification"},
        },
        "materials": {
            "standard": {
                "kind": "solution",
                "value": {"value": 1000.0, "unit": "ng/mL", "text": "1000 ng/mL"},
                "k": 2.0,
            }
        },
    }


def seal() -> Seal:
    return Seal(
        file="seal.yaml",
        code="BCDFG-HJKLM-NPQRS-TVWXZ",
        hash="0123456789abcdef" * 4,
        on="2031-03-03",
        by="B. Example",
        parts=("criteria", "intended_use", "studies"),
        order="before",
        first_measurement="2031-03-10",
        revisions=(
            SealRevision(
                on="2031-03-12",
                by="B. Example",
                reason="The buyer asked for a sixth level.",
                code="ZXWVT-SRQPN-MLKJH-GFDCB",
                order="after",
                changes=(
                    SealedChange(part="studies / recovery-in-coffee / design / levels", before='["1"]', after="2"),
                ),
            ),
        ),
        unrevised=(SealedChange(part="use", before="", after='["eu-2023-2782"]'),),
        time=TimeEvidence(
            file="seal.tsr",
            time="2031-03-04T07:00:00+00:00",
            authority="An authority (invented)",
            certificate_sha256="ab" * 32,
            stamped="BCDFG-HJKLM-NPQRS-TVWXZ",
        ),
    )


def reissue() -> Reissue:
    return Reissue(
        title="OTA-GC-00",
        reason="A value was read again.",
        evaluation_sha256="cd" * 32,
        software="method-dossier 0.1.0",
        compared=12,
        figures=(
            ReissuedFigure(
                study="recovery-in-coffee", finding="mean_recovery", level="1", unit="%", before=91.25, after=88.0,
                verdict_before="met", verdict_after="met",
            ),
            ReissuedFigure(
                study="gone", finding="lod", level=None, unit="µg/kg", before=0.5, after=None,
                verdict_before="not shown", verdict_after="",
            ),
        ),
        files=(ReissuedFile(name="recovery.csv", change="rows were added"),),
    )  # fmt: skip


def inputs() -> dict[str, bytes]:
    return {"protocol.yaml": b"format: 1\nid: OTA-GC-01\n", "recovery.csv": TABLE}


def sample(text: str | None = None) -> Evaluation:
    """The evaluation; with `text` every free text in it is replaced by that text."""
    evaluation = Evaluation(
        format=1,
        software="method-dossier 0.1.0",
        protocol=protocol(),
        inputs=tuple(
            InputFile(
                name=name,
                sha256=hashlib.sha256(content).hexdigest(),
                size_bytes=len(content),
                role="protocol" if name.endswith("yaml") else "table",
                read_as="" if name.endswith("yaml") else "Comma separated, decimal point, UTF-8.",
            )
            for name, content in inputs().items()
        ),
        conclusion=Conclusion(
            criteria=10,
            met=7,
            not_met=1,
            not_shown=2,
            firm=4,
            by_estimate=7,
            sentences=(
                "7 of 10 criteria are met, 1 is not met, 2 are not shown.",
                "At 40 µg/kg the design is too small to decide.",
            ),
            changed_by_treatment=("recovery-in-coffee/rsd_r@5: not met as recorded, met as reported",),
        ),
        studies=(study(),),
        requirements=requirements(),
        gaps=(
            Gap(characteristic="linearity", title="Linearity", why="A validation of a quantitative method expects it."),
        ),
        minimum_designs=(
            MinimumDesign(
                study="recovery-in-coffee",
                source="Own guide (invented)",
                clause="3",
                asked="18 on 3 occasions",
                present="6 on 1",
                short=True,
            ),
            MinimumDesign(
                study="recovery-in-coffee",
                source="Own guide (invented)",
                clause="",
                asked="5 levels",
                present="5 levels",
                short=False,
            ),
        ),
        amendments=(
            Amendment(
                file="recovery.csv",
                where={"sample": "R-017"},
                column="found",
                old="9.1",
                new="4.9",
                by="A. Example",
                on="2031-03-12",
                reason="Digits exchanged; printout kept.",
                row=4,
            ),
        ),
        exclusions=(
            Exclusion(
                file="recovery.csv",
                where={"sample": "R-019"},
                by="A. Example",
                on="2031-03-12",
                reason="Column ran dry.",
                rows="6",
            ),
            Exclusion(
                file="recovery.csv",
                where={"sample": "R-020"},
                by="A. Example",
                on="2031-03-12",
                reason="Vial broken.",
                rows="7",
            ),
        ),
        left_one_out=(
            LeftOneOut(exclusion=1, changed=()),
            LeftOneOut(exclusion=2, changed=("recovery-in-coffee/rsd_r@10: met → not shown",)),
        ),
        recorded_only=(
            Recorded(key="readiness", title="Readiness", text="calibration: not older than 12 h"),
            Recorded(key="materials.standard", title="Material: standard", text="solution"),
        ),
        clauses=(
            Clause(clause="7.2.2", title="Validation of methods", section="Studies", anchor="studies", state="in part"),
            Clause(
                clause="7.7",
                title="Ensuring the validity of results",
                section="Readiness",
                anchor="readiness",
                state="not answered",
            ),
        ),
        catalogue=(
            CatalogueExcerpt(
                id="eu-2023-2782",
                title="Sampling and analysis of mycotoxins in food",
                edition="2023",
                in_force_from="2024-04-01",
                in_force_until="",
                obtained="Read in the document.",
                note="Annex II.",
            ),
        ),
        notices=('recovery.csv: column "note" is ignored',),
        seal=seal(),
        reissue=reissue(),
        self_check=SelfCheckSummary(checks=3, passed=3, figures=20, agreed=20, deviations=1, installed_files="0" * 64),
    )
    return evaluation if text is None else _with_text(evaluation, text)


KEPT = {
    "order",
    "verdict_before",
    "verdict_after",
    "name",
    "kind",
    "finding",
    "study",
    "level",
    "layer",
    "use",
    "state",
    "role",
    "mark",
    "style",
    "scale",
    "axis",
    "expression",
    "ranges",
    "rows",
    "anchor",
    "verdict",
    "evidence",
    "judge_by",
    "file",
    "sha256",
    "criterion_of",
    "data_file",
    "when_met",
}
"""Fields that are names of things or closed lists and not free text."""


def _with_text(value: Any, text: str, field: str = "") -> Any:
    if dataclasses.is_dataclass(value):
        return dataclasses.replace(
            value, **{f.name: _with_text(getattr(value, f.name), text, f.name) for f in dataclasses.fields(value)}
        )
    if isinstance(value, tuple):
        return tuple(_with_text(item, text, field) for item in value)
    if isinstance(value, dict):
        return {key: _with_text(item, text, "" if key == "kind" else key) for key, item in value.items()}
    keep = field in KEPT or field in ("data", "format") or not isinstance(value, str) or hasattr(value, "value")
    return value if keep else text
