"""An evaluation made by hand, so that the dossier can be tested without any study.

All figures are invented. `sample(text)` puts `text` into every field that takes free text.
"""

from __future__ import annotations

import dataclasses
import hashlib
from typing import Any

from validate.vocabulary.evaluation import (
    Amendment,
    CatalogueExcerpt,
    Clause,
    Conclusion,
    Criterion,
    DesignFact,
    Evaluation,
    Exclusion,
    Gap,
    InputFile,
    Judgement,
    LeftOneOut,
    MinimumDesign,
    PassChance,
    Recorded,
    Remark,
    Requirement,
    ResultTable,
    StudyEvaluation,
    StudyResult,
    TableColumn,
    Varied,
    WiderBound,
)
from validate.vocabulary.finding import Finding, FindingKind, Interval, Rows, Symbol, Working
from validate.vocabulary.plot import Axis, Band, Bars, Line, Plot, Points, Rule, Whiskers
from validate.vocabulary.verdict import Evidence, JudgeBy, Verdict

LEVELS = ("1", "2", "5", "10", "40")
MEANS = (91.25, 88.4, 93.127, 90.62, 94.0)
SPREADS = (17.3, 11.2, 8.41, 7.9, 6.02)
TABLE = (
    "sample,spiked,day,analyst,found\n"
    "R-001,1,2031-03-09,A. Example,0.9\nR-002,1,2031-03-09,A. Example,0.8\n"
    "R-017,5,2031-03-11,B. Example,9.1\nR-018,5,2031-03-11,B. Example,4.7\n"
    "R-019,10,2031-03-12,A. Example,<2\nR-020,10,2031-03-12,B. Example,9.4\n"
).encode()
SECTION = """
{{ parts.remarks(study, ['warning']) }}
<p>Contamination: {{ result.facts.get('contamination', 'not stated') }}.</p>
{{ parts.design(study) }}{{ parts.varied(study) }}
{{ parts.plots(study) }}
{{ parts.findings(study) }}
{{ parts.tables(study) }}
{{ parts.criteria(study, requirements) }}
{{ parts.remarks(study, ['flag', 'note']) }}
{{ parts.limits(study) }}
{{ parts.note('A note in the margin.') }}
"""
KINDS = (
    FindingKind(name="mean_recovery", title="Mean recovery", symbol="R̄", unit="%", characteristic="recovery", per_level=True),
    FindingKind(
        name="rsd_r", title="Repeatability, relative", symbol="RSD_r", unit="%", characteristic="repeatability",
        per_level=True, smaller_is_better=True,
    ),
    FindingKind(name="levels_met", title="Largest deviation", symbol="d_max", unit="µg/kg", characteristic="trueness", per_level=False),
)  # fmt: skip


def shown(low: float | None, high: float | None) -> Interval:
    return Interval(use="shown", level=0.95, low=low, high=high, method="t interval on the means of days")


def recovery(level: str, mean: float, spread: float) -> Finding:
    half = spread / 2.2
    return Finding(
        name="mean_recovery", level=level, value=mean, unit="%", intervals=(shown(mean - half, mean + half),), n=6, df=5.0,
        formula="R̄ = 100 · (x̄ − x_native) / added", source="IUPAC 1999 (from memory)",
        rows=(Rows(file="recovery.csv", ranges="2-7"),),
        working=Working(
            expression="100 · ({mean} - {native}) / {added}",
            symbols=(
                Symbol(name="mean", printed="x̄", meaning="mean of the results found", value=mean * float(level) / 100 + 0.3, unit="µg/kg"),
                Symbol(name="native", printed="x_native", meaning="content before spiking", value=0.3, unit="µg/kg"),
                Symbol(name="added", printed="c_added", meaning="mass fraction added", value=float(level), unit="µg/kg"),
            ),
        ),
    )  # fmt: skip


def spread_of(level: str, spread: float) -> Finding:
    return Finding(
        name="rsd_r", level=level, value=spread, unit="%", intervals=(shown(spread * 0.63, spread * 2.45),), n=6, df=5.0,
        groups=3, formula="RSD_r = 100 · s_r / x̄", source="ISO 5725-2:2019",
        rows=(Rows(file="recovery.csv", ranges="2-7"),),
        notes=("Half of the interval comes from few results.",) if level == "1" else (),
    )  # fmt: skip


def findings(shift: float = 0.0) -> tuple[Finding, ...]:
    return (
        *(recovery(level, mean + (shift if level == "5" else 0), s) for level, mean, s in zip(LEVELS, MEANS, SPREADS, strict=True)),
        *(spread_of(level, s + (shift if level == "5" else 0)) for level, s in zip(LEVELS, SPREADS, strict=True)),
        Finding(
            name="levels_met", level=None, value=None, unit="µg/kg", reason="no level has a certified value",
            formula="d_max", source="own",
        ),
    )  # fmt: skip


def plots() -> tuple[Plot, ...]:
    by_level = Plot(
        name="recovery-by-level", title="Recovery by level", sentence="All means lie between the limits; single results scatter most at 1 µg/kg.",
        description="Recoveries of 30 results at five levels with means, limits and the accepted range.",
        x=Axis(label="spiked level in µg/kg", categories=LEVELS), y=Axis(label="recovery in %"),
        layers=(
            Band(x=(0.5, 5.5), low=(70.0, 70.0), high=(120.0, 120.0), label="accepted"),
            Points(x=(0.9, 0.9, 1.9, 2.9, 3.9, 4.9), y=(88.0, 79.0, 91.0, 95.0, 87.5, 92.0), rows=(2, 3, 4, 5, 6, 7), label="A. Example"),
            Points(x=(1.1, 2.1, 3.1, 4.1, 5.1), y=(101.0, 84.0, 93.0, 90.0, 96.0), rows=(8, 9, 10, 11, 12), mark="ring", label="B. Example"),
            Whiskers(x=(1, 2, 3, 4, 5), y=MEANS, low=(83.0, 83.0, 89.0, 87.0, None), high=(99.0, 93.0, 97.0, 94.0, 97.0), label="mean"),
            Rule(at=120.0, label="at most 120 %"), Rule(at=70.0, label="at least 70 %"),
        ),
    )  # fmt: skip
    spread = Plot(
        name="spread", title="Repeatability by level", sentence="The spread falls with the level, as the predicted curve does.",
        description="Relative standard deviation at five levels and the predicted curve.",
        x=Axis(label="level in µg/kg", scale="log"), y=Axis(label="RSD in %"),
        layers=(
            Bars(x=(1.0, 2.0, 5.0, 10.0, 40.0), y=SPREADS, label=""),
            Line(x=(1.0, 10.0, 40.0), y=(22.0, 15.6, 12.6), label="predicted", accent=True, style="dotted"),
            Rule(at=5.0, axis="x", label="limit", style="solid"),
        ),
    )  # fmt: skip
    return by_level, spread


def result(shift: float = 0.0) -> StudyResult:
    return StudyResult(
        findings=findings(shift),
        design=(
            DesignFact(name="levels", planned="5", carried_out="5"),
            DesignFact(name="days", planned="6", carried_out="3", short=True),
        ),
        varied=(
            Varied(factor="days", state="varied", count=3, detail="2031-03-09 to 2031-03-12"),
            Varied(factor="analysts", state="varied", count=2),
            Varied(factor="lots of columns", state="not recorded"),
        ),
        tables=(
            ResultTable(
                name="cells", title="Means and standard deviations by day",
                columns=(TableColumn(title="day", kind="text"), TableColumn(title="mean", unit="µg/kg"), TableColumn(title="s_r", unit="µg/kg")),
                rows=(("2031-03-09", 4.5671, 0.31), ("2031-03-11", 4.7, None), ("2031-03-12", 12345.678, -0.0000123)),
                note="A dash: one result gives no s_r.",
            ),
        ),
        plots=plots(),
        remarks=(
            Remark(kind="warning", text="Extraction of natural contamination not tested: all samples were spiked."),
            Remark(kind="flag", text="Flagged; a reason is needed; both results below.", level="5", rows="4"),
            Remark(kind="note", text="Reported uncorrected for recovery."),
        ),
        facts={"contamination": "spiked before extraction"},
    )  # fmt: skip


def judged(verdict: Verdict, reason: str, evidence: Evidence | None = None, **more: Any) -> Judgement:
    return Judgement(verdict=verdict, reason=reason, evidence=evidence, **more)


def requirements() -> tuple[Requirement, ...]:
    worth = (
        PassChance(truth="0.75 of the bound", value=15.0, chance=0.89),
        PassChance(truth="the bound", value=20.0, chance=0.583),
        PassChance(truth="1.25 of the bound", value=25.0, chance=0.3304),
    )
    firm = judged(Verdict.MET, "The mean lies between the limits.", Evidence.FIRM)
    weak = judged(Verdict.MET, "The estimate is below the limit.", Evidence.LIMIT_WITHIN_INTERVAL, worth=worth, query="Lower than predicted.")
    missed = judged(Verdict.NOT_MET, "The estimate is above the limit.")
    open_ = judged(Verdict.NOT_SHOWN, "6 results on 3 days; the criterion asks for 5 days.")
    table = {"mean_recovery": (firm, firm, firm, firm, open_), "rsd_r": (missed, weak, weak, weak, open_)}
    lines = []
    for finding, judgements in table.items():
        for level, judgement in zip(LEVELS, judgements, strict=True):
            spread = finding == "rsd_r"
            criterion = Criterion(
                kind="claim" if level == "40" else "criterion", study="recovery-in-coffee", finding=finding, level=level,
                low=None if spread else 70.0, high=17.29 if spread and level == "1" else 20.0 if spread else 120.0, unit="%",
                wording="at most 20 %" if spread else "70 % to 120 %", judge_by=JudgeBy.INTERVAL if level == "40" else JudgeBy.ESTIMATE,
                source="EU 2023/2782", edition="2023", clause="Annex II", reason="agreed with the buyer" if level == "40" else "",
                exception=WiderBound(low=50.0, high=130.0, when_met=("rsd_r",), wording="50 % to 130 %") if finding == "mean_recovery" else None,
                notes=("Applies to quantitative methods.",) if level == "1" else (),
            )  # fmt: skip
            changed = missed if level == "5" and spread else judgement
            lines.append(Requirement(criterion=criterion, as_reported=judgement, as_recorded=changed))
    return tuple(lines)


def study() -> StudyEvaluation:
    return StudyEvaluation(
        name="recovery-in-coffee", kind="recovery", title="Recovery of ochratoxin A from green coffee",
        question="How much of what was added is found, and how well do results repeat?", kinds_of_finding=KINDS,
        data_file="recovery.csv", as_reported=result(), as_recorded=result(shift=15.5),
        limits=("Holds from 1 to 40 µg/kg.", "Lots of columns were not varied."),
    )  # fmt: skip


def protocol() -> dict[str, Any]:
    return {
        "format": "1", "id": "OTA-GC-01", "edition": "1", "title": "Ochratoxin A in green coffee, single-laboratory validation",
        "issued": "2031-03-03", "origin": {"data": "invented", "statement": "All figures and names were invented to show the dossier."},
        "laboratory": "Alder Ridge Growers' Laboratory (fictional)", "people": {"planned": "A. Example", "approved": "B. Example"},
        "purpose": "validation", "intended_use": "quantitative", "supersedes": "OTA-GC-00",
        "method": {
            "measurand": "ochratoxin A", "matrix": "green coffee", "basis": "as received", "unit": "µg/kg",
            "principle": "affinity column clean-up, fluorometer reading", "reading": {"resolution": 0.1, "floor": 0.0},
            "scope": {"from": 1.0, "to": 40.0}, "limit": {"value": 5.0, "source": "own", "reason": "purchase specification"},
        },
        "materials": {"standard": {"kind": "solution", "value": {"value": 1000.0, "unit": "ng/mL", "text": "1000 ng/mL"}, "k": 2.0}},
    }  # fmt: skip


def inputs() -> dict[str, bytes]:
    return {"protocol.yaml": b"format: 1\nid: OTA-GC-01\n", "recovery.csv": TABLE}


def sample(text: str | None = None) -> Evaluation:
    """The evaluation; with `text` every free text in it is replaced by that text."""
    evaluation = Evaluation(
        format=1, software="method-dossier 0.1.0", protocol=protocol(),
        inputs=tuple(
            InputFile(name=name, sha256=hashlib.sha256(content).hexdigest(), size_bytes=len(content), role="protocol" if name.endswith("yaml") else "table",
                      read_as="" if name.endswith("yaml") else "Comma separated, decimal point, UTF-8.")
            for name, content in inputs().items()
        ),
        conclusion=Conclusion(
            criteria=10, met=7, not_met=1, not_shown=2, firm=4, by_estimate=7,
            sentences=("7 of 10 criteria are met, 1 is not met, 2 are not shown.", "At 40 µg/kg the design is too small to decide."),
            changed_by_treatment=("recovery-in-coffee/rsd_r@5: not met as recorded, met as reported",),
        ),
        studies=(study(),), requirements=requirements(),
        gaps=(Gap(characteristic="linearity", title="Linearity", why="A validation of a quantitative method expects it."),),
        minimum_designs=(
            MinimumDesign(study="recovery-in-coffee", source="Own guide (invented)", clause="3", asked="18 on 3 occasions", present="6 on 1", short=True),
            MinimumDesign(study="recovery-in-coffee", source="Own guide (invented)", clause="", asked="5 levels", present="5 levels", short=False),
        ),
        amendments=(
            Amendment(file="recovery.csv", where={"sample": "R-017"}, column="found", old="9.1", new="4.9", by="A. Example", on="2031-03-12", reason="Digits exchanged; printout kept.", row=4),
        ),
        exclusions=(
            Exclusion(file="recovery.csv", where={"sample": "R-019"}, by="A. Example", on="2031-03-12", reason="Column ran dry.", rows="6"),
            Exclusion(file="recovery.csv", where={"sample": "R-020"}, by="A. Example", on="2031-03-12", reason="Vial broken.", rows="7"),
        ),
        left_one_out=(LeftOneOut(exclusion=1, changed=()), LeftOneOut(exclusion=2, changed=("recovery-in-coffee/rsd_r@10: met → not shown",))),
        recorded_only=(Recorded(key="readiness", title="Readiness", text="calibration: not older than 12 h"), Recorded(key="materials.standard", title="Material: standard", text="solution")),
        clauses=(
            Clause(clause="7.2.2", title="Validation of methods", section="Studies", anchor="studies", state="in part"),
            Clause(clause="7.7", title="Ensuring the validity of results", section="Readiness", anchor="readiness", state="not by this version"),
        ),
        catalogue=(CatalogueExcerpt(id="eu-2023-2782", title="Sampling and analysis of mycotoxins in food", edition="2023", in_force_from="2024-04-01", in_force_until="", obtained="Read in the document.", note="Annex II."),),
        notices=("recovery.csv: column \"note\" is ignored",),
    )  # fmt: skip
    return evaluation if text is None else _with_text(evaluation, text)


KEPT = {"name", "kind", "finding", "study", "level", "layer", "use", "state", "role", "mark", "style", "scale", "axis", "expression", "ranges", "rows",
        "anchor", "verdict", "evidence", "judge_by", "file", "sha256", "criterion_of", "data_file", "when_met"}  # fmt: skip
"""Fields that are names of things or closed lists and not free text."""


def _with_text(value: Any, text: str, field: str = "") -> Any:
    if dataclasses.is_dataclass(value):
        return dataclasses.replace(value, **{f.name: _with_text(getattr(value, f.name), text, f.name) for f in dataclasses.fields(value)})
    if isinstance(value, tuple):
        return tuple(_with_text(item, text, field) for item in value)
    if isinstance(value, dict):
        return {key: _with_text(item, text, "" if key == "kind" else key) for key, item in value.items()}
    keep = field in KEPT or field in ("data", "format") or not isinstance(value, str) or hasattr(value, "value")
    return value if keep else text
