"""Evaluate a round: arrays → assigned values → scores → findings, tables, pictures, remarks."""

from __future__ import annotations

import numpy as np

from validate.studies.contract import StudyInput
from validate.studies.proficiency_round.assigning import scales_of
from validate.studies.proficiency_round.findings import findings_of
from validate.studies.proficiency_round.history import history_tables, past_rounds
from validate.studies.proficiency_round.material import spoken_of
from validate.studies.proficiency_round.pictures import MOST_PICTURED, pictures
from validate.studies.proficiency_round.remarks import remarks_of
from validate.studies.proficiency_round.scoring import Scores, scores_of
from validate.studies.proficiency_round.settings import ProficiencyRoundSettings
from validate.studies.proficiency_round.submitted import Submitted, submitted
from validate.studies.proficiency_round.suspicions import blunders, implausible_uncertainties, method_groups
from validate.studies.proficiency_round.tables import (
    comment_table,
    method_table,
    overview,
    score_table,
    side_by_side,
    suspicion_table,
    target_table,
)
from validate.studies.proficiency_round.targets import targets_of
from validate.vocabulary.evaluation import DesignFact, Remark, StudyResult, Varied


def evaluate_study(job: StudyInput) -> StudyResult:
    """Everything that is said of a round. No comment of a laboratory is in it unless the protocol says so."""
    settings: ProficiencyRoundSettings = job.settings  # type: ignore[assignment]
    sent = submitted(settings, targets_of(settings, job.method.measurand, job.method.unit), job.table)
    scales = scales_of(job, sent)
    scores = scores_of(sent, scales, settings.score)
    groups, suspected = method_groups(sent, scales), blunders(sent, scales, scores)
    implausible = implausible_uncertainties(sent, scales)
    tables = [
        target_table(sent, scales, scores),
        side_by_side(scales),
        *overview(sent, scales, scores),
        method_table(groups),
        suspicion_table("suspicions", "What looks like a blunder", suspected),
        suspicion_table("uncertainties", "Uncertainties that are hard to believe", implausible),
        *history_tables(past_rounds(settings, job.files), sent.laboratories),
        comment_table(sent) if settings.show_comments else None,
        score_table(sent, scales, scores),
    ]
    remarks = remarks_of(settings, sent, scales, scores, groups, suspected, implausible)
    if len(scales) > MOST_PICTURED:
        text = f"Pictures are drawn of the first {MOST_PICTURED} of {len(scales)} targets."
        remarks = (*remarks, Remark(kind="note", text=text))
    return StudyResult(
        findings=findings_of(sent, scales, scores),
        design=_design(settings, sent),
        varied=_varied(sent),
        tables=tuple(table for table in tables if table is not None),
        plots=pictures(sent, scales, scores),
        remarks=remarks,
        facts=_facts(job, sent, scores),
    )


def _design(settings: ProficiencyRoundSettings, sent: Submitted) -> tuple[DesignFact, ...]:
    expected, found = settings.laboratories, len(sent.laboratories)
    return (
        DesignFact(
            name="laboratories",
            planned=str(expected or "not said"),
            carried_out=str(found),
            short=expected is not None and found < expected,
        ),
        DesignFact(name="samples", planned=", ".join(settings.samples), carried_out=_samples(sent)),
        DesignFact(
            name="results with a number",
            planned=str(len(sent.targets) * (expected or found)),
            carried_out=str(int(np.count_nonzero(~np.isnan(sent.results)))),
        ),
    )


def _samples(sent: Submitted) -> str:
    measured = [t.sample for i, t in enumerate(sent.targets) if not np.isnan(sent.results[i]).all()]
    return ", ".join(dict.fromkeys(measured)) or "none"


def _varied(sent: Submitted) -> tuple[Varied, ...]:
    methods = {str(name) for name in sent.methods.ravel() if name}
    state = "varied" if len(methods) > 1 else "constant" if methods else "not recorded"
    return (
        Varied(factor="laboratories", state="varied", count=len(sent.laboratories)),
        Varied(factor="methods", state=state, count=len(methods) or None),
    )


def _facts(job: StudyInput, sent: Submitted, scores: Scores) -> dict[str, str]:
    """Short texts for the section and for later rounds: what a report has to say, or that nothing is said."""
    settings: ProficiencyRoundSettings = job.settings  # type: ignore[assignment]
    facts = {"round": settings.round, "status": settings.status}
    items = settings.items
    if items:
        named = {"preparation": items.preparation, "sent": items.sent, "results_until": items.results_until}
        facts |= {key: str(value) for key, value in named.items() if value is not None}
    if settings.instructions:
        facts["instructions"] = settings.instructions
    facts |= {key: text for key, text in spoken_of(settings, job.needed).items() if text}
    facts["commentary"] = " ".join(f"{each.by}: {each.text}" for each in settings.commentary)
    facts["classifying"] = ", ".join(
        f"{target.label} by {symbol}" for target, symbol in zip(sent.targets, scores.classifying, strict=True)
    )
    return facts
