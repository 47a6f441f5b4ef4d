"""Evaluate a linearity study: the line, what it gives back, the range in which it holds."""

from __future__ import annotations

from validate.studies.contract import StudyInput
from validate.studies.linearity.calibration import calibration_of
from validate.studies.linearity.carried_out import design_facts, facts_of, varied_factors
from validate.studies.linearity.deviations import Bend, bend_of, deviations_of
from validate.studies.linearity.diagnostics import diagnostics_of, diagnostics_table
from validate.studies.linearity.level_findings import curvature_finding, deviation_findings, largest_finding
from validate.studies.linearity.line_findings import line_findings
from validate.studies.linearity.pictures import pictures
from validate.studies.linearity.remarks import remarks_of
from validate.studies.linearity.set_points import evaluate_set_points
from validate.studies.linearity.settings import SET_POINTS
from validate.studies.linearity.tables import curve_table, day_table, level_table, read_table
from validate.studies.linearity.working_range import working_range, working_range_findings
from validate.vocabulary.evaluation import StudyResult


def evaluate_study(job: StudyInput) -> StudyResult:
    """Every finding of the form, each with its value or the reason why it has none."""
    if job.settings.form == SET_POINTS:  # type: ignore[attr-defined]
        return evaluate_set_points(job)
    calibration = calibration_of(job)
    deviations, bend = deviations_of(calibration), bend_of(calibration)
    tests, found = diagnostics_of(calibration, bend), working_range(calibration, deviations, bend)
    tables = [
        level_table(calibration, deviations, bend),
        curve_table(calibration, bend) if isinstance(bend, Bend) else None,
        read_table(calibration),
        day_table(calibration),
        diagnostics_table(tests) if tests else None,
    ]
    return StudyResult(
        findings=(
            largest_finding(calibration, deviations, bend),
            *deviation_findings(calibration, deviations),
            curvature_finding(calibration, bend),
            *working_range_findings(calibration, found),
            *line_findings(calibration),
        ),
        design=design_facts(calibration),
        varied=varied_factors(job),
        tables=tuple(table for table in tables if table is not None),
        plots=pictures(calibration, deviations),
        remarks=remarks_of(calibration, deviations, bend, tests, found),
        facts=facts_of(calibration),
    )
