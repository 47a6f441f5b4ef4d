"""Sentences that a reader must not miss."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.linearity.calibration import Calibration
from validate.studies.linearity.deviations import Bend, Deviation, distance
from validate.studies.linearity.diagnostics import Diagnostic
from validate.studies.linearity.settings import FEWEST_LEVELS, NO_WEIGHTS
from validate.studies.linearity.working_range import WorkingRange, rules_of
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import Remark

STANDARDS_ONLY = "Standards, not samples: losses in extraction and effects of the matrix are not in these figures."
NOT_REPEATED = (
    "No level was measured twice: the limits rest on the scatter about the line, which holds its bend, and lack of fit "
    "cannot be tested."
)
ORIGIN = "The line is forced through the origin; the curve is held against the line with intercept."
UNEQUAL = (
    "The scatter is not the same at all levels: limits from pooled scatter are too wide where it is small and too "
    "narrow where it is large. Declare weights that describe it."
)
BENT_BUT_SMALL = "A bend is significant, yet every deviation lies within the bound: the bound decides, not the test."
SPREAD_TEST = ("Levene", "Cochran", "slope of lg s")
BEND_TESTS = ("fitting test", "quadratic", "lack of fit")


def remarks_of(
    calibration: Calibration,
    deviations: tuple[Deviation, ...],
    bend: Bend | str,
    tests: tuple[Diagnostic, ...],
    found: WorkingRange,
) -> tuple[Remark, ...]:
    """Remarks on the study, then on each level."""
    told = (
        *_on_line(calibration),
        *_on_levels(calibration, deviations),
        *_on_tests(calibration, deviations, bend, tests),
        *_on_range(found),
    )
    return tuple(Remark(kind=kind, text=text, level=level, rows=rows) for kind, text, level, rows in told)  # type: ignore[arg-type]


def _on_line(calibration: Calibration) -> Iterator[tuple[str, str, str | None, str]]:
    yield "note", STANDARDS_ONLY, None, ""
    if calibration.fit is None:
        yield "warning", f"No line was fitted: {calibration.why_no_fit}.", None, ""
        return
    if len(calibration.x) == len(calibration.measured):
        yield "note", NOT_REPEATED, None, ""
    if calibration.settings.through_origin:
        yield "note", ORIGIN, None, ""
    if len(calibration.above_zero) < FEWEST_LEVELS:
        count = len(calibration.above_zero)
        text = (
            f"{count} levels above 0 tell little of a bend between them; {FEWEST_LEVELS} or more are common practice."
        )
        yield "warning", text, None, ""


def _on_levels(
    calibration: Calibration, deviations: tuple[Deviation, ...]
) -> Iterator[tuple[str, str, str | None, str]]:
    for points in calibration.levels:
        if points.censored:
            text = "Censored readings are left out, and the level gets no verdict: they are never zero."
            yield "warning", text, points.level, row_ranges(points.censored)
        if points.missing:
            yield "flag", "No reading was obtained; a reason is needed.", points.level, row_ranges(points.missing)
        if not points.n and not points.censored:
            yield "warning", "No reading at this level.", points.level, ""
    for found in deviations:
        for reason in found.blocked:
            if "censored" not in reason:
                yield "warning", f"No verdict: {reason}.", found.level, ""


def _on_tests(
    calibration: Calibration, deviations: tuple[Deviation, ...], bend: Bend | str, tests: tuple[Diagnostic, ...]
) -> Iterator[tuple[str, str, str | None, str]]:
    significant = [test for test in tests if test.significant]
    if any(test.name.startswith(SPREAD_TEST) for test in significant):
        if calibration.settings.weights == NO_WEIGHTS:
            yield "warning", UNEQUAL, None, ""
        else:
            yield "warning", "The declared weights do not describe the scatter of the levels (99 %).", None, ""
    bent = any(test.name.startswith(BEND_TESTS) for test in significant)
    if bent and isinstance(bend, Bend) and _all_within(calibration, deviations, bend):
        yield "note", BENT_BUT_SMALL, None, ""


def _all_within(calibration: Calibration, deviations: tuple[Deviation, ...], bend: Bend) -> bool:
    bounds = [rule for rule in rules_of(calibration.settings) if rule.finding == "largest_deviation"]
    parts = [*deviations, bend]
    return bool(bounds) and all(
        distance(part.limits(0.90))[1] <= rule.high if rule.by_interval else abs(part.percent) <= rule.high
        for rule in bounds
        for part in parts
    )


def _on_range(found: WorkingRange) -> Iterator[tuple[str, str, str | None, str]]:
    if found.barred:
        yield (
            "note",
            f"The working range passes no level at which another study has: {'; '.join(found.barred)}.",
            None,
            "",
        )
