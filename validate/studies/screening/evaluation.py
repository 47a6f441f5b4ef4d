"""Evaluate a screening study: cut-off and rates by the formula, samples as counted, curve, agreement."""

from __future__ import annotations

from validate.studies.contract import StudyInput
from validate.studies.screening.counting import count, count_findings, negative_content
from validate.studies.screening.cutting import cut_findings, cut_of
from validate.studies.screening.pictures import pictures
from validate.studies.screening.remarks import design_facts, facts_of, remarks_of, varied_factors
from validate.studies.screening.samples import samples_of
from validate.studies.screening.tables import class_table, sample_table, wrong_table
from validate.vocabulary.evaluation import StudyResult


def evaluate_study(job: StudyInput) -> StudyResult:
    """Every figure for which the protocol plans samples, each with its value or the reason why it has none."""
    samples = samples_of(job)
    cut = cut_of(samples)
    counts = count(samples, cut)
    content = negative_content(samples)
    tables = (sample_table(counts), wrong_table(counts), class_table(counts))
    return StudyResult(
        findings=(
            *(() if cut is None else cut_findings(cut)),
            *count_findings(counts),
            *(() if content is None else (content,)),
        ),
        design=design_facts(counts),
        varied=varied_factors(job),
        tables=tuple(table for table in tables if table is not None),
        plots=pictures(counts, cut),
        remarks=remarks_of(counts, cut),
        facts=facts_of(counts, cut),
    )
