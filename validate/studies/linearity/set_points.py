"""The record of an instrument's set points: nominal content, reading, date, allowed range."""

from __future__ import annotations

from validate.stats.descriptive import summary
from validate.stats.intervals import t_limits
from validate.studies.contract import StudyInput
from validate.studies.linearity.calibration import Calibration, LevelPoints, calibration_of, is_recorded, rows_of
from validate.studies.linearity.carried_out import design_facts, facts_of, varied_factors
from validate.studies.linearity.deviations import intervals_of
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import Remark, ResultTable, StudyResult, TableColumn
from validate.vocabulary.finding import Finding, Sampling, Symbol, Working
from validate.vocabulary.plot import Axis, Plot, Points, Rule

FORMULA = "d = 100·(x̄_read − x)/x; x̄_read: mean of the means of dates"
SOURCE = "arithmetic; limits by t over dates"
MARKS = ("dot", "ring", "cross", "square", "triangle")
MOST_DATES = 60
LIMITS = "Limits of a set point rest on the means of its dates."
NOTE = "The allowed range is that of the protocol; where it states none, none is shown."


def evaluate_set_points(job: StudyInput) -> StudyResult:
    """Mean deviation of each set point over dates, the record itself, and readings outside their range."""
    calibration = calibration_of(job)
    plot = _plot(calibration)
    return StudyResult(
        findings=tuple(_finding(calibration, level) for level in calibration.levels if level.x > 0),
        design=design_facts(calibration)[:-1],
        varied=varied_factors(job),
        tables=(_record(calibration),),
        plots=() if plot is None else (plot,),
        remarks=_remarks(calibration),
        facts={"form": facts_of(calibration)["form"], "line": "none", "limits": LIMITS},
    )


def _finding(calibration: Calibration, level: LevelPoints) -> Finding:
    common = {"name": "set_point_deviation", "level": level.level, "unit": "%", "formula": FORMULA, "source": SOURCE,
              "rows": rows_of(calibration.job, level.index)}  # fmt: skip
    if not level.n:
        return Finding(value=None, reason="no reading of this set point", **common)
    dates = calibration.job.table.frame.loc[level.index, "date"].tolist()
    found = summary(level.y, dates) if len(set(dates)) > 1 else None
    mean = found.mean if found else float(level.y.mean())
    percent = 100 * (mean - level.x) / level.x
    u = None if found is None else 100 * found.u / level.x
    unit = calibration.job.method.unit
    return Finding(
        value=percent,
        blocked=("the readings repeat exactly (s = 0)",) if u == 0 else (),
        intervals=() if u is None else intervals_of(calibration.job, lambda c: t_limits(percent, u, found.df, c), "%"),
        n=level.n,
        df=None if found is None else found.df,
        groups=len(set(dates)),
        working=Working(
            expression="100 · ({mean} − {x}) / {x}",
            symbols=(
                Symbol(name="mean", printed="x̄_read", meaning="mean of the means of dates", value=mean, unit=unit),
                Symbol(name="x", printed="x", meaning="set point", value=level.x, unit=unit),
            ),
        ),
        sampling=None if u is None else Sampling(kind="mean", se=u, df=found.df),
        notes=() if found else ("one date: no interval",),
        **common,
    )


def _record(calibration: Calibration) -> ResultTable:
    """Every reading in the order of its date."""
    unit, frame = calibration.job.method.unit, calibration.job.table.frame
    allowed = calibration.settings.allowed
    lines = [
        (frame.loc[row, "date"], level, float(reading))
        for level in calibration.measured
        for row, reading in zip(level.index, level.y, strict=True)
    ]
    lines.sort(key=lambda line: (line[0], line[1].x))
    rows = []
    for date, level, reading in lines:
        range_of = allowed.get(level.level)
        percent = 100 * (reading - level.x) / level.x if level.x > 0 else None
        words = "" if range_of is None else f"{range_of[0]:g} to {range_of[1]:g}"
        rows.append((str(date), level.level, reading, percent, words, _place(reading, range_of)))
    columns = (
        TableColumn(title="date", kind="text"),
        TableColumn(title="set point", unit=unit, kind="text"),
        TableColumn(title="reading", unit=unit),
        TableColumn(title="deviation", unit="%"),
        TableColumn(title="allowed", unit=unit, kind="text"),
        TableColumn(title="reading lies", kind="text"),
    )
    return ResultTable(name="record", title="Readings of the set points", columns=columns, rows=tuple(rows), note=NOTE)


def _place(reading: float, allowed: tuple[float, float] | None) -> str:
    if allowed is None:
        return "no range stated"
    return "inside" if allowed[0] <= reading <= allowed[1] else "outside"


def _remarks(calibration: Calibration) -> tuple[Remark, ...]:
    made = []
    for level in calibration.levels:
        allowed = calibration.settings.allowed.get(level.level)
        if not level.n:
            made.append(Remark(kind="warning", level=level.level, text="No reading of this set point."))
        outside = [
            int(row) for row, reading in zip(level.index, level.y, strict=True) if _place(reading, allowed) == "outside"
        ]
        if outside:
            text = "Outside the allowed range; a reason and what was done are needed."
            made.append(Remark(kind="flag", level=level.level, rows=row_ranges(outside), text=text))
    if not is_recorded(calibration.job.table.frame, "instrument"):
        made.append(Remark(kind="note", text="The instrument is not recorded with the readings."))
    return tuple(made)


def _plot(calibration: Calibration) -> Plot | None:
    frame = calibration.job.table.frame
    dates = sorted({str(frame.loc[row, "date"]) for level in calibration.above_zero for row in level.index})
    if not 1 < len(dates) <= MOST_DATES:
        return None
    place = {date: float(i) for i, date in enumerate(dates, start=1)}
    layers = tuple(
        Points(
            x=tuple(place[str(frame.loc[row, "date"])] for row in level.index),
            y=tuple((100 * (level.y - level.x) / level.x).tolist()),
            rows=tuple(int(row) for row in level.index),
            label=f"set point {level.level}",
            mark=MARKS[i % len(MARKS)],  # type: ignore[arg-type]
        )
        for i, level in enumerate(calibration.above_zero)
    )
    return Plot(
        name="set_points",
        title="Set points over time",
        sentence="Each reading in percent of its set point; readings that move together point at the instrument.",
        description=f"Readings of {len(layers)} set points on {len(dates)} dates, in percent of their nominal content.",
        x=Axis(label="date", categories=tuple(dates)),
        y=Axis(label="deviation (% of set point)"),
        layers=(*layers, Rule(at=0.0, style="dotted")),
    )
