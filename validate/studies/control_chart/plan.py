"""The bench plan of a control chart: one or several readings of the control material in every run."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.contract import PlanInput
from validate.studies.control_chart.settings import FEWEST_BASE, ControlChartSettings
from validate.vocabulary.bench import Entry, Foresight, Outlook, Position, StudyPlan, bounded
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.finding import Sampling

PLAIN = ("s_intermediate", "rsd_intermediate")


def plan(job: PlanInput) -> StudyPlan:
    """Every run and reading as one position."""
    settings: ControlChartSettings = job.settings  # type: ignore[assignment]
    return StudyPlan(
        positions=bounded(_positions(job, settings)),
        entries=tuple(_entries(settings)),
        day_word="run",
        steps=tuple(_steps(settings)),
        records=(
            "day, lot of kit or column, calibration in force, instrument, analyst of every run",
            "result as read, with its `<` or `n.d.`; a result outside the limits stays, with what was found about it",
            "number and date of opening of the portion of control material",
        ),
        foresights=tuple(_foresight(settings, each) for each in job.criteria if _is_foreseen(settings, each)),
        told=tuple(_told(settings)),
    )


def _positions(job: PlanInput, settings: ControlChartSettings) -> Iterator[Position]:
    name = settings.limits.material or "control material"
    content = "" if settings.level is None else f", {settings.level} {job.method.unit}"
    for run in range(1, settings.design.runs + 1):
        for replicate in range(1, settings.design.replicates + 1):
            cells = {"run": f"R{run:03d}"}
            cells |= {"replicate": str(replicate)} if settings.design.replicates > 1 else {}
            yield Position(day=run, label=f"{name}{content}", replicate=replicate, cells=cells)


def _entries(settings: ControlChartSettings) -> Iterator[Entry]:
    yield Entry(role="run", filled="proposed")
    if settings.design.replicates > 1:
        yield Entry(role="replicate", filled="plan")
    yield from (Entry(role=name) for name in ("date", "value", "lot", "calibration", "instrument", "analyst"))


def _steps(settings: ControlChartSettings) -> Iterator[str]:
    yield "Take the control material through every step that a sample goes through, extraction included."
    yield "Measure it in every run, at another place of the run each time, before results are given out."
    yield "Mark the result on the chart at once. On a signal hold results back, look for the cause, write it down."
    if settings.design.replicates > 1:
        yield "Spread the readings over the run: readings side by side hide what changes within a run."


def _is_foreseen(settings: ControlChartSettings, criterion: Criterion) -> bool:
    return criterion.finding in PLAIN and settings.design.replicates == 1


def _foresight(settings: ControlChartSettings, criterion: Criterion) -> Foresight:
    def at(runs: int) -> Outlook:
        if runs < 2:
            raise ValueError("one run tells nothing of the scatter")
        return Outlook(sampling=Sampling(kind="scaled_chi", df=runs - 1), n=runs, groups=runs)

    return Foresight(finding=criterion.finding, level=criterion.level, size=settings.design.runs, sized="runs", at=at,
                     assumed="runs scatter independently, without drift")  # fmt: skip


def _told(settings: ControlChartSettings) -> Iterator[str]:
    if settings.design.runs < FEWEST_BASE:
        yield f"{settings.design.runs} runs do not make a base period: {FEWEST_BASE} or more are common practice."
    yield "Single points take some 44 runs to show a shift by one standard deviation; CUSUM takes about 10."
