"""What is wrong, or worth telling, in the settings and the table of a control chart."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from validate.studies.contract import CheckInput
from validate.studies.control_chart.settings import (
    CERTIFIED,
    CUSUM,
    EWMA,
    FEWEST_BASE,
    MEAN_AND_RANGE,
    ControlChartSettings,
)
from validate.vocabulary.problem import Problem, ProblemCatalogue

if TYPE_CHECKING:
    import pandas as pd

PROBLEMS = ProblemCatalogue(__file__)
MOST_CELLS = 20
FAR = 2.0
"""A mean so many times the nominal content, or below one part in so many, is asked about."""
CONDITIONS = ("lot", "calibration", "instrument", "date", "analyst")


def problems_of(job: CheckInput) -> Iterator[Problem]:
    """Problems of the settings first, then those of the table."""
    settings: ControlChartSettings = job.settings  # type: ignore[assignment]
    yield from _settings(job, settings)
    if job.table is not None:
        yield from _table(job, settings)


def _settings(job: CheckInput, settings: ControlChartSettings) -> Iterator[Problem]:
    source = settings.limits
    if source.from_ == CERTIFIED and source.material not in job.materials:
        known = ", ".join(job.materials) or "none"
        values = {"material": source.material, "known": known, "unit": job.method.unit}
        yield PROBLEMS.problem("control-no-value", job.place("limits", "material"), **values)
    if source.base is not None and source.base.runs is not None and source.base.runs < FEWEST_BASE:
        place = job.place("limits", "base", "runs")
        yield PROBLEMS.problem("control-short-base", place, runs=source.base.runs, wanted=FEWEST_BASE)
    if settings.chart == MEAN_AND_RANGE and settings.design.replicates < 2:
        yield PROBLEMS.problem("control-no-replicates", job.place("chart"))
    for name, trigger in settings.revalidate.items():
        place = job.place("revalidate", name, "on")
        if trigger.on == EWMA and settings.ewma is None:
            yield PROBLEMS.problem("control-trigger-without-chart", place, name=name, chart=EWMA, key="ewma: {}")
        elif trigger.on == CUSUM and settings.cusum is None:
            yield PROBLEMS.problem("control-trigger-without-chart", place, name=name, chart=CUSUM, key="cusum: {}")
        elif trigger.on not in (EWMA, CUSUM, "any rule", *settings.rules):
            yield PROBLEMS.problem("control-trigger-without-rule", place, name=name, rule=trigger.on)
    if "revalidation_triggers" in settings.accept and not settings.revalidate:
        yield PROBLEMS.problem("control-no-triggers", job.place("accept", "revalidation_triggers"))
    for name in ("bias", "bias_percent"):
        if name in settings.accept and source.material is None:
            yield PROBLEMS.problem("control-bias-without-value", job.place("accept", name), finding=name)


def _table(job: CheckInput, settings: ControlChartSettings) -> Iterator[Problem]:
    frame = job.table.frame  # type: ignore[union-attr]
    used = frame[frame["value"].notna()]
    runs = used["run"].nunique()
    if runs < 2:
        yield PROBLEMS.problem("control-few-runs", job.place("data"), runs=runs)
        return
    if used["value"].nunique() == 1:
        yield PROBLEMS.problem("control-all-the-same", job.place("data"), value=f"{used['value'].iloc[0]:g}")
    yield from _content(job, settings, used)
    yield from _waiting(job, settings, used)
    yield from _order(job, used)
    yield from _conditions(job, used)
    sizes = used.groupby("run", sort=False).size()
    if settings.chart == MEAN_AND_RANGE and (sizes.nunique() > 1 or sizes.iloc[0] < 2):
        odd = sizes.index[sizes != sizes.mode().iloc[0]] if sizes.nunique() > 1 else sizes.index
        row = int(used.index[(used["run"] == odd[0]).to_numpy()][0])
        yield PROBLEMS.problem("control-unequal-runs", job.cell(row, "run"), run=odd[0], found=int(sizes[odd[0]]),
                               usual=int(sizes.mode().iloc[0]))  # fmt: skip
    yield from _base(job, settings, used, runs)
    if runs < settings.design.runs:
        yield PROBLEMS.problem(
            "control-fewer-than-planned", job.place("design", "runs"), found=runs, planned=settings.design.runs
        )


def _content(job: CheckInput, settings: ControlChartSettings, used: pd.DataFrame) -> Iterator[Problem]:
    """A nominal content that is not near what was found: another material, or another unit."""
    mean = float(used["value"].mean())
    if settings.level is not None and not 1 / FAR <= mean / float(settings.level) <= FAR:
        yield PROBLEMS.problem("control-far-from-level", job.place("level"), level=settings.level,
                               mean=f"{mean:.4g}", unit=job.method.unit)  # fmt: skip


def _waiting(job: CheckInput, settings: ControlChartSettings, used: pd.DataFrame) -> Iterator[Problem]:
    """A trigger after a change of something that the table does not record: it can never fire."""
    for name, trigger in settings.revalidate.items():
        role = trigger.after_change_of
        if role is not None and (role not in used.columns or not used[role].astype(bool).any()):
            place = job.place("revalidate", name, "after_change_of")
            yield PROBLEMS.problem("control-trigger-unrecorded", place, name=name, role=role)


def _order(job: CheckInput, used: pd.DataFrame) -> Iterator[Problem]:
    """Rows that are not in order of their dates: they are taken in that order, and it is told."""
    if "date" not in used.columns:
        return
    undated = used["date"].isna() | (used["date"] == "")
    if undated.any():
        row = int(used.index[undated.to_numpy()][0])
        yield PROBLEMS.problem("control-without-day", job.cell(row, "date"), run=used.loc[row, "run"],
                               count=int(undated.sum()), rows=len(used))  # fmt: skip
        return
    earlier = used["date"] < used["date"].cummax()
    for row in used.index[earlier.to_numpy(dtype=bool)][:1]:
        yield PROBLEMS.problem("control-out-of-order", job.cell(int(row), "date"), date=used.loc[row, "date"],
                               count=int(earlier.sum()))  # fmt: skip


def _conditions(job: CheckInput, used: pd.DataFrame) -> Iterator[Problem]:
    """One run has one lot, one calibration, one instrument, one day."""
    for role in (name for name in CONDITIONS if name in used.columns):
        numbers = used.groupby("run", sort=False)[role].nunique()
        for run in numbers.index[(numbers > 1).to_numpy()][:MOST_CELLS]:
            labels = used.loc[used["run"] == run, role]
            row = int(labels.index[(labels != labels.iloc[0]).to_numpy()][0])
            yield PROBLEMS.problem("control-two-in-one-run", job.cell(row, role), run=run, what=role,
                                   first=labels.iloc[0], second=labels.loc[row])  # fmt: skip


def _base(job: CheckInput, settings: ControlChartSettings, used: pd.DataFrame, runs: int) -> Iterator[Problem]:
    base = settings.limits.base
    if base is None:
        return
    if base.until is not None:
        place = job.place("limits", "base", "until")
        if "date" not in used.columns:
            yield PROBLEMS.problem("control-base-without-dates", place)
            return
        inside = used.loc[(used["date"] <= str(base.until)).to_numpy(), "run"].nunique()
    else:
        place = job.place("limits", "base", "runs")
        inside = min(base.runs or 0, runs)
    if inside < 2:
        yield PROBLEMS.problem("control-empty-base", place, found=inside)
    elif inside == runs:
        yield PROBLEMS.problem("control-base-is-all", place, runs=runs)
