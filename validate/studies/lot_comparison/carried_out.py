"""The design as planned and as carried out, what varied, facts for the words, and limits of use."""

from __future__ import annotations

from validate.studies.contract import StudyInput
from validate.studies.lot_comparison.columns import CONDITIONS
from validate.studies.lot_comparison.comparing import Outcome
from validate.studies.lot_comparison.concluding import MORE
from validate.studies.lot_comparison.context import Context
from validate.studies.lot_comparison.deciding import margin_words, missing_samples, percent, shift_rates, shift_words
from validate.studies.lot_comparison.kinds import PLURALS
from validate.studies.lot_comparison.settings import LotComparisonSettings
from validate.vocabulary.evaluation import DesignFact, StudyResult, Varied

MOST_LABELS = 8


def design_facts(context: Context) -> tuple[DesignFact, ...]:
    settings, design = context.settings, context.settings.design
    words = "pairs" if settings.paired else "results"
    facts = [
        DesignFact(
            name="design",
            planned=f"{design.kind}, {settings.form}, {'paired' if settings.paired else 'not paired'}",
            carried_out=f"{settings.new} against {settings.current}, {context.all.n} {words}",
        )
    ]
    for part in context.levels:
        at = "" if part.level is None else f" at {part.level}{context.in_units}"
        short = design.samples is not None and settings.paired and part.n < design.samples
        planned = "not stated" if design.samples is None else str(design.samples)
        facts.append(DesignFact(name=f"{words}{at}", planned=planned, carried_out=str(part.n), short=short))
    if settings.spread is not None:
        spread = settings.spread
        value = f"{spread.rsd_percent:g} %" if spread.rsd_percent is not None else f"{spread.s_r:g}{context.in_units}"
        planned = f"{value} on {spread.df:g} degrees of freedom"
        facts.append(DesignFact(name="repeatability known before", planned=planned, carried_out=spread.source))
    return tuple(facts)


def varied(context: Context) -> tuple[Varied, ...]:
    """The factor itself, and the conditions that the table records."""
    frame, settings = context.job.table.frame, context.settings
    both = f"{settings.new}, {settings.current}"
    told = [Varied(factor=PLURALS[settings.factor], state="varied", count=2, detail=both)]
    for name in CONDITIONS:
        if name == settings.factor:
            continue
        plural = PLURALS.get(name, f"{name}s")
        labels = [x for x in dict.fromkeys(frame[name]) if x] if name in frame.columns else []
        if not labels:
            told.append(Varied(factor=plural, state="not recorded"))
            continue
        detail = ", ".join(labels[:MOST_LABELS]) + (", …" if len(labels) > MOST_LABELS else "")
        state = "varied" if len(labels) > 1 else "constant"
        told.append(Varied(factor=plural, state=state, count=len(labels), detail=detail))
    return tuple(told)


def facts(context: Context, decided: tuple[Outcome, ...]) -> dict[str, str]:
    """Texts for the section and for the conclusion; later comparisons read factor, labels and form."""
    settings = context.settings
    told = {
        "factor": settings.factor,
        "new": settings.new,
        "current": settings.current,
        "form": settings.form,
        "in_units": context.in_units,
        "primary": settings.primary,
        "met": _met(context),
        "rule": _rule(context),
    }
    if not settings.is_shift:
        missing = {each.part.level or "": missing_samples(context, each) for each in decided}
        told |= {f"{MORE}{level}": text for level, text in missing.items() if text}
    return told


def _met(context: Context) -> str:
    settings = context.settings
    names = f"{settings.factor.capitalize()} {settings.new}", f"{settings.factor} {settings.current}"
    if settings.is_shift:
        hidden = shift_rates(settings, context.all.n).accepts_at_bound if context.all.n else 1.0
        shift = shift_words(settings, context.unit)
        found = f"a shift of {shift} would not have stayed hidden ({percent(1 - hidden)})"
        return f"{names[0]} shows no shift against {names[1]}; {found}."
    where = " at every level" if settings.judged_by_level and settings.design.levels else ""
    return f"{names[0]} reads like {names[1]} within the margin ({margin_words(settings, context.unit)}){where}."


def _rule(context: Context) -> str:
    settings = context.settings
    if settings.is_shift:
        limit = settings.rejection_limit
        low, high = (settings.shown(end) for end in (-limit, limit))
        unit = " %" if settings.is_ratio else context.in_units
        return (
            f"Shift detection, set up for {settings.design.samples} pairs: the mean has to lie from {low:.4g} to "
            f"{high:.4g}{unit}. This finds large shifts; it does not prove that two lots are equal."
        )
    margin = margin_words(settings, context.unit)
    return (
        f"Equivalence: the 90 % interval has to lie within {margin}. A difference that is not significant would "
        "prove nothing."
    )


def limits_of_use(job: StudyInput, result: StudyResult) -> tuple[str, ...]:
    """What this design cannot tell, in sentences."""
    settings: LotComparisonSettings = job.settings  # type: ignore[assignment]
    limits = []
    if settings.is_shift:
        limits.append("Shift detection does not prove sameness: shifts smaller than the critical one may stay hidden.")
    if settings.design.levels:
        limits.append(f"Shown at {', '.join(settings.design.levels)} {job.method.unit} only.")
    if not settings.history and settings.factor == "lot":
        limits.append(
            "No comparison of two neighbouring lots shows a drift: keep the evaluations and follow each lot against "
            "the validation lot (`history`)."
        )
    if not settings.paired:
        limits.append("Unpaired results compare means of different portions; pairs decide the same with far fewer.")
    silent = [each.factor for each in result.varied if each.state == "not recorded"]
    if silent:
        limits.append(f"Not recorded in what this study read, so that nobody can tell from it: {', '.join(silent)}.")
    limits.append("Control materials may behave differently from samples: native samples decide.")
    return tuple(limits)
