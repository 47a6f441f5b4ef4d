"""What is wrong, or worth telling, in the settings of an uncertainty study."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.contract import CheckInput
from validate.studies.uncertainty.settings import DEFAULT, UncertaintySettings
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)
SMALLEST_PERCENT = 0.05


def problems_of(job: CheckInput) -> Iterator[Problem]:
    """A limit without its level, percentages that cannot be, a law without its condition."""
    settings: UncertaintySettings = job.settings  # type: ignore[assignment]
    limit, unit = job.method.limit, job.method.unit
    if limit is None:
        yield PROBLEMS.problem("uncertainty-no-limit", job.place())
    elif limit not in map(float, settings.levels):
        yield PROBLEMS.problem("uncertainty-limit-not-a-level", job.place("levels"), limit=f"{limit:g}", unit=unit)
    yield from _percentages(job, settings)
    yield from _law(job, settings)
    if job.table is not None and limit is None:
        yield PROBLEMS.problem("uncertainty-nothing-to-decide", job.place("data"))


def _percentages(job: CheckInput, settings: UncertaintySettings) -> Iterator[Problem]:
    u = settings.bias.relative_u_of_reference_percent
    place = job.place("bias", "relative_u_of_reference_percent")
    if not 0 <= u < 100:
        yield PROBLEMS.problem("uncertainty-impossible-percent", place, value=f"{u:g}")
    elif 0 < u < SMALLEST_PERCENT:
        yield PROBLEMS.problem("uncertainty-fraction", place, value=f"{u:g}")
    if settings.precision.relative_percent is not None and settings.precision.relative_percent < SMALLEST_PERCENT:
        place = job.place("precision", "relative_percent")
        yield PROBLEMS.problem("uncertainty-fraction", place, value=f"{settings.precision.relative_percent:g}")
    for number, each in enumerate(settings.contributions):
        if each.relative_u_percent < SMALLEST_PERCENT:
            place = job.place("contributions", number, "relative_u_percent")
            yield PROBLEMS.problem("uncertainty-fraction", place, value=f"{each.relative_u_percent:g}")


def _law(job: CheckInput, settings: UncertaintySettings) -> Iterator[Problem]:
    declared = settings.default_of_law
    if declared is None:
        return
    place = job.place("default_of_law")
    if declared.mean_absolute_z is not None and declared.mean_absolute_z < 0:
        yield PROBLEMS.problem("uncertainty-negative-z", place, value=f"{declared.mean_absolute_z:g}")
    if declared.mean_absolute_z is None or declared.scored_with_percent is None or declared.rounds is None:
        severity = "uncertainty-law-without-condition" if settings.basis == DEFAULT else "uncertainty-law-not-shown"
        yield PROBLEMS.problem(severity, place, law=declared.law)
