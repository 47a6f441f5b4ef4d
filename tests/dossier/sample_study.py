"""The study of the sample: findings, pictures, tables, remarks. All figures are invented."""

from __future__ import annotations

from validate.vocabulary.evaluation import (
    DesignFact,
    Remark,
    ResultTable,
    StudyEvaluation,
    StudyResult,
    TableColumn,
    Varied,
)
from validate.vocabulary.finding import Finding, FindingKind, Interval, Rows, Symbol, Working
from validate.vocabulary.plot import Axis, Band, Bars, Line, Plot, Points, Rule, Whiskers

LEVELS = ("1", "2", "5", "10", "40")
MEANS = (91.25, 88.4, 93.127, 90.62, 94.0)
SPREADS = (17.3, 11.2, 8.41, 7.9, 6.02)
TABLE = (
    b"sample,spiked,day,analyst,found\n"
    b"R-001,1,2031-03-09,A. Example,0.9\nR-002,1,2031-03-09,A. Example,0.8\n"
    b"R-017,5,2031-03-11,B. Example,9.1\nR-018,5,2031-03-11,B. Example,4.7\n"
    b"R-019,10,2031-03-12,A. Example,<2\nR-020,10,2031-03-12,B. Example,9.4\n"
)
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
    FindingKind(
        name="mean_recovery", title="Mean recovery", symbol="R̄", unit="%", characteristic="recovery", per_level=True
    ),
    FindingKind(
        name="rsd_r",
        title="Repeatability, relative",
        symbol="RSD_r",
        unit="%",
        characteristic="repeatability",
        per_level=True,
        smaller_is_better=True,
    ),
    FindingKind(
        name="levels_met",
        title="Largest deviation",
        symbol="d_max",
        unit="µg/kg",
        characteristic="trueness",
        per_level=False,
    ),
)


def shown(low: float | None, high: float | None) -> Interval:
    return Interval(use="shown", level=0.95, low=low, high=high, method="t interval on the means of days")


def recovery(level: str, mean: float, spread: float) -> Finding:
    half = spread / 2.2
    return Finding(
        name="mean_recovery",
        level=level,
        value=mean,
        unit="%",
        intervals=(shown(mean - half, mean + half),),
        n=6,
        df=5.0,
        formula="R̄ = 100 · (x̄ − x_native) / added",
        source="IUPAC 1999 (from memory)",
        rows=(Rows(file="recovery.csv", ranges="2-7"),),
        working=Working(
            expression="100 · ({mean} - {native}) / {added}",
            symbols=(
                Symbol(
                    name="mean",
                    printed="x̄",
                    meaning="mean of the results found",
                    value=mean * float(level) / 100 + 0.3,
                    unit="µg/kg",
                ),
                Symbol(name="native", printed="x_native", meaning="content before spiking", value=0.3, unit="µg/kg"),
                Symbol(
                    name="added", printed="c_added", meaning="mass fraction added", value=float(level), unit="µg/kg"
                ),
            ),
        ),
    )


def spread_of(level: str, spread: float) -> Finding:
    return Finding(
        name="rsd_r",
        level=level,
        value=spread,
        unit="%",
        intervals=(shown(spread * 0.63, spread * 2.45),),
        n=6,
        df=5.0,
        groups=3,
        formula="RSD_r = 100 · s_r / x̄",
        source="ISO 5725-2:2019",
        rows=(Rows(file="recovery.csv", ranges="2-7"),),
        notes=("Half of the interval comes from few results.",) if level == "1" else (),
    )


def findings(shift: float = 0.0) -> tuple[Finding, ...]:
    return (
        *(
            recovery(level, mean + (shift if level == "5" else 0), s)
            for level, mean, s in zip(LEVELS, MEANS, SPREADS, strict=True)
        ),
        *(spread_of(level, s + (shift if level == "5" else 0)) for level, s in zip(LEVELS, SPREADS, strict=True)),
        Finding(
            name="levels_met",
            level=None,
            value=None,
            unit="µg/kg",
            reason="no level has a certified value",
            formula="d_max",
            source="own",
        ),
    )


def plots() -> tuple[Plot, ...]:
    by_level = Plot(
        name="recovery-by-level",
        title="Recovery by level",
        sentence="All means lie between the limits; single results scatter most at 1 µg/kg.",
        description="Recoveries of 30 results at five levels with means, limits and the accepted range.",
        x=Axis(label="spiked level in µg/kg", categories=LEVELS),
        y=Axis(label="recovery in %"),
        criterion_of="mean_recovery",
        layers=(
            Band(x=(0.5, 5.5), low=(70.0, 70.0), high=(120.0, 120.0), label="accepted"),
            Points(
                x=(0.9, 0.9, 1.9, 2.9, 3.9, 4.9),
                y=(88.0, 79.0, 91.0, 95.0, 87.5, 92.0),
                rows=(2, 3, 4, 5, 6, 7),
                label="A. Example",
            ),
            Points(
                x=(1.1, 2.1, 3.1, 4.1, 5.1),
                y=(101.0, 84.0, 93.0, 90.0, 96.0),
                rows=(8, 9, 10, 11, 12),
                mark="ring",
                label="B. Example",
            ),
            Whiskers(
                x=(1, 2, 3, 4, 5),
                y=MEANS,
                low=(83.0, 83.0, 89.0, 87.0, None),
                high=(99.0, 93.0, 97.0, 94.0, 97.0),
                label="mean",
            ),
        ),
    )
    spread = Plot(
        name="spread",
        title="Repeatability by level",
        sentence="The spread falls with the level, as the predicted curve does.",
        description="Relative standard deviation at five levels and the predicted curve.",
        x=Axis(label="level in µg/kg", scale="log"),
        y=Axis(label="RSD in %"),
        layers=(
            Bars(x=(1.0, 2.0, 5.0, 10.0, 40.0), y=SPREADS, label=""),
            Line(x=(1.0, 10.0, 40.0), y=(22.0, 15.6, 12.6), label="predicted", accent=True, style="dotted"),
            Rule(at=5.0, axis="x", label="limit", style="solid"),
        ),
    )
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
                name="cells",
                title="Means and standard deviations by day",
                columns=(
                    TableColumn(title="day", kind="text"),
                    TableColumn(title="mean", unit="µg/kg"),
                    TableColumn(title="s_r", unit="µg/kg"),
                ),
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
    )


def study() -> StudyEvaluation:
    return StudyEvaluation(
        name="recovery-in-coffee",
        kind="recovery",
        title="Recovery of ochratoxin A from green coffee",
        question="How much of what was added is found, and how well do results repeat?",
        kinds_of_finding=KINDS,
        data_file="recovery.csv",
        as_reported=result(),
        as_recorded=result(shift=15.5),
        limits=("Holds from 1 to 40 µg/kg.", "Lots of columns were not varied."),
    )
