"""Tables: the budget of every level, and what the uncertainty covers and omits."""

from __future__ import annotations

from math import isinf

from validate.studies.contract import StudyInput
from validate.studies.uncertainty.budget import BIAS_PARTS, WITHIN, LevelBudget
from validate.studies.uncertainty.settings import DEFAULT
from validate.studies.uncertainty.sources import settings_of
from validate.vocabulary.evaluation import ResultTable, TableColumn

COVERED, IN_PART, OMITTED = "covered", "in part", "omitted"
SAMPLING_WORDS = ("sampling", "sample")


def budget_table(job: StudyInput, budgets: tuple[LevelBudget, ...]) -> ResultTable:
    """One line for each component of each level, with its share of u²."""
    unit = job.method.unit
    columns = (
        TableColumn(title="level", unit=unit, kind="text"),
        TableColumn(title="component", kind="text"),
        TableColumn(title="u", unit=unit),
        TableColumn(title="share of u²", unit="%"),
        TableColumn(title="df"),
        TableColumn(title="how", kind="text"),
    )
    rows = []
    for budget in budgets:
        square = sum(each.u**2 for each in budget.components)
        for each in budget.components:
            share = 100 * each.u**2 / square if square else 0.0
            df = "taken as known" if isinf(each.df) else float(each.df)
            rows.append((budget.level, each.name, each.u, share, df, each.how))
    note = "The bias that is not corrected stands among the components as it is. Repeatability is part of s_Rw."
    return ResultTable(name="budget", title="Budget by level", columns=columns, rows=tuple(rows), note=note)


def coverage_table(job: StudyInput, budgets: tuple[LevelBudget, ...]) -> ResultTable:
    """What the uncertainty covers and what it leaves out."""
    rows = _of_default() if settings_of(job).basis == DEFAULT else _of_budget(job, budgets)
    columns = (
        TableColumn(title="source of uncertainty", kind="text"),
        TableColumn(title="state", kind="text"),
        TableColumn(title="why", kind="text"),
    )
    return ResultTable(
        name="coverage", title="What the uncertainty covers and what it omits", columns=columns, rows=tuple(rows)
    )


def _of_default() -> list[tuple[str, str, str]]:
    return [
        ("analysis", COVERED, "by the default of the law, not by own results"),
        ("sampling", OMITTED, "the default is that of the analysis; sampling usually outweighs all else"),
    ]


def _of_budget(job: StudyInput, budgets: tuple[LevelBudget, ...]) -> list[tuple[str, str, str]]:
    settings = settings_of(job)
    done = [budget for budget in budgets if budget.whole is not None]
    days = min((budget.groups for budget in done if budget.groups is not None), default=None)
    sources = dict.fromkeys(each.how for budget in done for each in budget.part(WITHIN))
    has_bias = bool(done) and all(budget.part(*BIAS_PARTS) for budget in done)
    of_days = f"{days} days at the poorest level" if days is not None else "the number of days is not known"
    varied = "as far as they varied in the precision study: its list says which did"
    bias_words = "its error enters through the correction" if settings.corrected_for_recovery else "entered as it is"
    corrected = "results are divided by the mean recovery" if settings.corrected_for_recovery else "not corrected"
    rows = [
        ("repeatability", COVERED if done else OMITTED, "part of within-laboratory reproducibility"),
        ("days", COVERED if days and days > 1 else OMITTED, of_days),
        ("analysts, instruments, calibrations, lots", IN_PART, varied),
        ("bias", COVERED if has_bias else OMITTED, f"{bias_words}; {corrected}" if has_bias else "not studied here"),
        ("reference values", COVERED if has_bias else OMITTED, "as stated with the added or certified content"),
        ("extraction of grown-in analyte", IN_PART, "only where the bias study used natural or certified samples"),
        _resolution(job),
        ("other matrices", OMITTED, "the figures hold for the materials that were measured"),
    ]
    rows += [(each.name, COVERED, each.origin) for each in settings.contributions]
    if not any(word in each.name.lower() for each in settings.contributions for word in SAMPLING_WORDS):
        rows.append(("sampling", OMITTED, "how the lot was sampled and ground; it usually outweighs all else"))
    rows.append(("precision taken from", "", "; ".join(sources) or "nothing"))
    return rows


def _resolution(job: StudyInput) -> tuple[str, str, str]:
    step = job.method.resolution
    if step is None:
        return ("resolution of the reading", OMITTED, "not declared in the protocol")
    return ("resolution of the reading", COVERED, f"step of {step:g} {job.method.unit}")
