"""Evaluate a control chart: the record, its limits and signals, what scatters over time, triggers."""

from __future__ import annotations

from validate.studies.contract import StudyInput
from validate.studies.control_chart.charting import chart_of
from validate.studies.control_chart.limit_findings import count_findings, limit_findings
from validate.studies.control_chart.pictures import pictures
from validate.studies.control_chart.remarks import design_facts, facts_of, remarks_of, varied_factors
from validate.studies.control_chart.runs import record_of
from validate.studies.control_chart.spread_findings import place_findings, spread_findings
from validate.studies.control_chart.tables import change_table, segment_table, signal_table, trigger_table
from validate.studies.control_chart.triggers import fired_triggers
from validate.vocabulary.evaluation import StudyResult


def evaluate_study(job: StudyInput) -> StudyResult:
    """Every finding of the record, each with its value or the reason why it has none."""
    record = record_of(job)
    charted = chart_of(record)
    fired = fired_triggers(charted)
    tables = (trigger_table(charted, fired), signal_table(charted), segment_table(charted), change_table(record))
    return StudyResult(
        findings=(
            *place_findings(record),
            *spread_findings(record),
            *limit_findings(charted),
            *count_findings(charted, fired),
        ),
        design=design_facts(record),
        varied=varied_factors(record),
        tables=tuple(table for table in tables if table is not None),
        plots=pictures(charted),
        remarks=remarks_of(charted, fired),
        facts=facts_of(charted),
    )
