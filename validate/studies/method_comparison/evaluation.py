"""Evaluate a method comparison: the line, the bias at each level, limits of agreement, decisions."""

from __future__ import annotations

from validate.studies.contract import StudyInput
from validate.studies.method_comparison.agreement import agreement_findings, agreement_of, class_findings
from validate.studies.method_comparison.lines import bias_findings, line_findings, line_of
from validate.studies.method_comparison.pictures import pictures
from validate.studies.method_comparison.remarks import blocks_of, design_facts, facts_of, remarks_of, varied_factors
from validate.studies.method_comparison.samples import samples_of
from validate.studies.method_comparison.tables import class_table, farthest_table, line_table, replicate_table
from validate.vocabulary.evaluation import StudyResult


def evaluate_study(job: StudyInput) -> StudyResult:
    """Every finding of the declared form, each with its value or the reason why it has none."""
    samples = samples_of(job)
    line, agreement, blocked = line_of(samples), agreement_of(samples), blocks_of(samples)
    tables = (
        line_table(samples),
        farthest_table(samples, agreement),
        class_table(samples),
        replicate_table(samples, agreement),
    )
    return StudyResult(
        findings=(
            *bias_findings(line, blocked),
            *line_findings(line, blocked),
            *agreement_findings(samples, agreement, blocked),
            *class_findings(samples, blocked),
        ),
        design=design_facts(samples),
        varied=varied_factors(samples),
        tables=tuple(table for table in tables if table is not None),
        plots=pictures(samples, line, agreement),
        remarks=remarks_of(samples, line, agreement),
        facts=facts_of(samples),
    )
