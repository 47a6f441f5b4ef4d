"""What is wrong, or worth telling, in the settings and the table of a method comparison."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.contract import CheckInput
from validate.studies.method_comparison.kinds import CLASSES, DIFFERENCES, RATIOS, agreement_names
from validate.studies.method_comparison.settings import FEWEST, PROPORTIONAL, RATIO, MethodComparisonSettings
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)
MOST_CELLS = 20


def problems_of(job: CheckInput) -> Iterator[Problem]:
    """Problems of the settings first, then those of the table."""
    settings: MethodComparisonSettings = job.settings  # type: ignore[assignment]
    yield from _settings(job, settings)
    if job.table is not None:
        yield from _table(job, settings)


def _settings(job: CheckInput, settings: MethodComparisonSettings) -> Iterator[Problem]:
    if not settings.levels:
        suggestion = f"{job.method.limit:g}" if job.method.limit is not None else "5"
        yield PROBLEMS.problem("comparison-no-levels", job.place(), level=suggestion)
    if settings.design.samples < FEWEST:
        values = {"planned": settings.design.samples, "needed": FEWEST}
        yield PROBLEMS.problem("comparison-few-samples", job.place("design", "samples"), **values)
    own = agreement_names(settings)
    for name in settings.accept:
        place = job.place("accept", name)
        if name in (*DIFFERENCES, *RATIOS) and name not in own:
            other = RATIO if name in RATIOS else "difference"
            yield PROBLEMS.problem("comparison-other-form", place, finding=name, form=settings.differences, other=other,
                                   given=", ".join(own))  # fmt: skip
        if name in CLASSES and job.method.limit is None:
            yield PROBLEMS.problem("comparison-no-limit", place, finding=name)
        bound = settings.accept[name]
        if name.startswith("method_bias") and bound.bounds and bound.between is None:
            size = next(abs(getattr(bound, key)) for key in bound.bounds)
            yield PROBLEMS.problem("comparison-one-sided", place, finding=name, size=f"{size:g}")


def _table(job: CheckInput, settings: MethodComparisonSettings) -> Iterator[Problem]:
    frame = job.table.frame  # type: ignore[union-attr]
    numbers = frame[["reference", "found"]].notna()
    if not numbers.any(axis=None):
        yield PROBLEMS.problem("comparison-no-numbers", job.place("data"))
        return
    read = numbers.groupby(frame["sample"], sort=False).any()
    alone = read.index[read["reference"] != read["found"]]
    for name in alone[:MOST_CELLS]:
        row = int(frame.index[(frame["sample"] == name).to_numpy()][0])
        missing = "found" if read.loc[name, "reference"] else "reference"
        yield PROBLEMS.problem("comparison-alone", job.cell(row, missing), sample=name, missing=missing)
    count = int(read.all(axis=1).sum())
    if count < settings.design.samples:
        yield PROBLEMS.problem("comparison-fewer-than-planned", job.place("design", "samples"), found=count,
                               planned=settings.design.samples)  # fmt: skip
    if settings.line.errors == PROPORTIONAL or settings.differences == RATIO:
        yield from _without_logarithm(job)
    for role in ("reference", "found"):
        values = frame[role].dropna()
        if len(values) > 2 and values.nunique() == 1:
            yield PROBLEMS.problem(
                "comparison-all-the-same", job.place("data"), column=role, value=f"{values.iloc[0]:g}"
            )
    if (
        len(frame) > 2
        and bool((frame["reference"] == frame["found"])[numbers.all(axis=1)].all())
        and numbers.all(axis=1).any()
    ):
        yield PROBLEMS.problem("comparison-same-column", job.place("data"))


def _without_logarithm(job: CheckInput) -> Iterator[Problem]:
    frame = job.table.frame  # type: ignore[union-attr]
    for role in ("reference", "found"):
        zero = frame.index[(frame[role] <= 0).to_numpy()]
        for row in zero[:MOST_CELLS]:
            yield PROBLEMS.problem("comparison-zero", job.cell(int(row), role), value=f"{frame.loc[row, role]:g}")
