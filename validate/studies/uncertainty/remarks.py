"""Sentences that a reader must not miss, and limits of use."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.contract import StudyInput
from validate.studies.uncertainty.budget import BIAS, LevelBudget, law_problem
from validate.studies.uncertainty.settings import DEFAULT, FEWEST_OCCASIONS
from validate.studies.uncertainty.sources import bias_at, settings_of
from validate.studies.uncertainty.tables import SAMPLING_WORDS
from validate.vocabulary.evaluation import Remark, StudyResult

LARGE_BIAS = 0.5
"""A bias that makes more than this share of u² is told: correcting it would help. Common practice, no source."""
CLEAR = 2.0
"""A bias beyond this multiple of its standard error is called clear."""
NO_SAMPLING = "Sampling is not in this uncertainty and usually outweighs all else: results hold for the test sample."


def remarks_of(job: StudyInput, budgets: tuple[LevelBudget, ...]) -> tuple[Remark, ...]:
    """Remarks on the whole, then on levels."""
    on_levels = (remark for budget in budgets for remark in _on_level(budget))
    return (*_on_all(job, budgets), *_on_low_results(job), *on_levels)


def _on_all(job: StudyInput, budgets: tuple[LevelBudget, ...]) -> Iterator[Remark]:
    settings = settings_of(job)
    if not any(word in each.name.lower() for each in settings.contributions for word in SAMPLING_WORDS):
        yield Remark(kind="warning", text=NO_SAMPLING)
    if settings.basis == DEFAULT:
        text = (
            "This uncertainty is the default of a law, not found from own results, and holds only under its condition."
        )
        yield Remark(kind="warning", text=text)
    elif settings.default_of_law is not None and (reason := law_problem(settings)) is not None:
        yield Remark(kind="note", text=f"The default of the law may not be used: {reason}.")
    few = [each for each in budgets if each.whole and not each.by_default]
    poorest = min((each.groups for each in few if each.groups is not None), default=None)
    unknown = any(each.groups is None for each in few)
    if few and (unknown or poorest < FEWEST_OCCASIONS):
        days = "an unknown number of" if poorest is None else str(poorest)
        text = f"Provisional: the precision rests on {days} days; renew it from control results of at least "
        yield Remark(kind="warning", text=f"{text}{FEWEST_OCCASIONS} days.")


def _on_low_results(job: StudyInput) -> Iterator[Remark]:
    """Results that read low are accepted too easily: U treats the bias as if it had no sign."""
    limit, settings = job.method.limit, settings_of(job)
    if limit is None or settings.corrected_for_recovery or settings.basis == DEFAULT:
        return
    level = next((each for each in settings.levels if float(each) == limit), None)
    found = "" if level is None else bias_at(job, level)
    if not isinstance(found, str) and found.value < -CLEAR * found.u:
        percent = -100 * found.value / limit
        text = f"Results read low by {percent:.2g} % at the limit, uncorrected: U holds the bias without its sign."
        yield Remark(kind="warning", level=level, text=text)


def _on_level(budget: LevelBudget) -> Iterator[Remark]:
    if budget.reason is not None:
        yield Remark(kind="warning", level=budget.level, text=f"No uncertainty: {budget.reason}.")
        return
    for why in budget.blocked:
        yield Remark(kind="warning", level=budget.level, text=f"{why[0].upper()}{why[1:]}.")
    square = sum(each.u**2 for each in budget.components)
    bias = sum(each.u**2 for each in budget.part(BIAS))
    if square and bias > LARGE_BIAS * square:
        share = f"{100 * bias / square:.0f} %"
        text = f"The bias makes {share} of u²: find its cause, or correct results for recovery where rules allow it."
        yield Remark(kind="note", level=budget.level, text=text)


def limits_of_use(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this uncertainty cannot tell."""
    return tuple(_sentences(job, result))


def _sentences(job: StudyInput, result: StudyResult) -> Iterator[str]:
    unit, settings = job.method.unit, settings_of(job)
    levels = sorted(
        float(f.level)
        for f in result.findings
        if f.name == "u_combined" and f.level is not None and f.value is not None
    )
    if levels:
        span = f"{levels[0]:g} {unit}" if len(levels) == 1 else f"{levels[0]:g} to {levels[-1]:g} {unit}"
        yield f"The uncertainty is stated for {span}; beyond it none was found."
    if settings.corrected_for_recovery:
        yield "It holds for results divided by the mean recovery, and only while that recovery is kept under control."
    else:
        yield "It holds for results that are not corrected for recovery; the bias is part of it."
    if job.method.limit is not None and result.finding("acceptance_limit") is not None:
        yield f"Decisions follow the rule '{settings.rule}'; agree it with the customer before results are reported."
    yield "Which rule and which correction may be used where a limit is set by law, that law decides."
