"""Evaluate an uncertainty study: a budget for every level, then the decision at the limit."""

from __future__ import annotations

from validate.studies.contract import StudyInput
from validate.studies.uncertainty.budget import LevelBudget, budget_at
from validate.studies.uncertainty.deciding import (
    WORDS,
    decision_findings,
    decision_table,
    limit_budget,
    results_table,
    rule_table,
)
from validate.studies.uncertainty.findings import default_finding, level_findings
from validate.studies.uncertainty.pictures import pictures
from validate.studies.uncertainty.remarks import remarks_of
from validate.studies.uncertainty.sources import settings_of
from validate.studies.uncertainty.tables import budget_table, coverage_table
from validate.vocabulary.evaluation import DesignFact, ResultTable, StudyResult


def evaluate_study(job: StudyInput) -> StudyResult:
    """Findings, tables and pictures; a level without its sources says which are missing."""
    settings = settings_of(job)
    budgets = tuple(budget_at(job, level) for level in settings.levels)
    at_limit = limit_budget(job, budgets)
    decisions = decision_findings(job, at_limit) if job.method.limit is not None else ()
    findings = (
        *(f for budget in budgets for f in level_findings(job, budget)),
        *default_finding(settings),
        *decisions,
    )
    return StudyResult(
        findings=findings,
        design=_design(budgets),
        tables=_tables(job, budgets, at_limit),
        plots=pictures(job, findings, at_limit),
        remarks=remarks_of(job, budgets),
        facts=_facts(job, at_limit),
    )


def _design(budgets: tuple[LevelBudget, ...]) -> tuple[DesignFact, ...]:
    done = [budget.level for budget in budgets if budget.whole is not None]
    wanted = ", ".join(budget.level for budget in budgets)
    return (
        DesignFact(
            name="levels", planned=wanted, carried_out=", ".join(done) or "none", short=len(done) < len(budgets)
        ),
    )


def _tables(job: StudyInput, budgets: tuple[LevelBudget, ...], at_limit: LevelBudget | str) -> tuple[ResultTable, ...]:
    made = [budget_table(job, budgets), coverage_table(job, budgets)]
    if not isinstance(at_limit, str):
        made += [rule_table(job, at_limit), decision_table(job, at_limit)]
        results = results_table(job, at_limit)
        made += [] if results is None else [results]
    return tuple(made)


def _facts(job: StudyInput, at_limit: LevelBudget | str) -> dict[str, str]:
    settings = settings_of(job)
    corrected = "divided by the mean recovery" if settings.corrected_for_recovery else "not corrected for recovery"
    coverage = "from Student's t" if settings.coverage == "t" else f"k = {settings.k:g}"
    facts = {"basis": settings.basis, "corrected": corrected, "coverage": coverage}
    if isinstance(at_limit, str):
        facts["no_decision"] = at_limit
    else:
        facts["rule"] = f"{settings.rule}: {WORDS[settings.rule]}"
    return facts
