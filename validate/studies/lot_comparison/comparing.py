"""The figures that decide: ratio or difference at each level and over all, and the shift."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from validate.stats.equivalence import Equivalence, shift_test, tost_mean, tost_two_means
from validate.studies.lot_comparison.context import TOST, Context, E, symbol
from validate.studies.lot_comparison.pairing import Compared
from validate.vocabulary.finding import Finding, Sampling, Symbol, Working

SHIFT_SOURCE = "rejection limit t · s/√n of a rule set up beforehand; s and df as the protocol states"
PAIRS_NEEDED = 2


@dataclass(frozen=True)
class Outcome:
    """What the results of one level say, on the scale of the differences; `tost` is None with its reason in `why`."""

    part: Compared
    tost: Equivalence | None
    why: str


def outcomes(context: Context) -> tuple[Outcome, ...]:
    """One for each level."""
    return tuple(outcome(context, part) for part in context.levels)


def outcome(context: Context, part: Compared) -> Outcome:
    """Two one-sided tests against the margin, or against the critical shift for information."""
    try:
        return Outcome(part, _tost(context, part), "")
    except ValueError as reason:
        return Outcome(part, None, _words(part, str(reason)))


def _tost(context: Context, part: Compared) -> Equivalence:
    margin = context.settings.margin_ends
    if part.paired:
        return tost_mean(part.differences, margin, groups=None if part.groups is None else list(part.groups))
    scale = np.log if part.is_ratio else np.asarray
    return tost_two_means(scale(part.new), scale(part.current), margin)


def _words(part: Compared, reason: str) -> str:
    if part.paired and part.n == 0:
        return "no pair was measured"
    if part.paired and part.n < PAIRS_NEEDED:
        return "one pair alone: nothing is known of the scatter, at least 2 are needed"
    return reason


def decisive(context: Context, found: tuple[Outcome, ...]) -> list[Finding]:
    """The primary finding, and the same figure at each level and over all of them."""
    settings = context.settings
    names = [f"{context.prefix}_{'ratio' if settings.is_ratio else 'difference'}"]
    findings = [_compared(context, names[0], each) for each in found]
    if len(found) > 1:
        findings.append(_compared(context, f"{names[0]}_overall", outcome(context, context.all)))
    if settings.is_ratio:
        findings += [_plain_difference(context, each.part) for each in found]
    return ([_shift(context)] if settings.is_shift else []) + findings


def _compared(context: Context, name: str, found: Outcome) -> Finding:
    settings, part, tost = context.settings, found.part, found.tost
    level = None if name.endswith("_overall") else part.level
    formula = _formula(context, part)
    if tost is None and part.n < PAIRS_NEEDED:
        return context.missing(name, found.why, formula=formula, level=level, n=part.n)
    if tost is None and not (part.new.size and part.current.size):
        return context.missing(name, found.why, formula=formula, level=level, n=part.n)
    estimate = _centre(part) if tost is None else tost.estimate
    value = settings.shown(estimate)
    return context.finding(
        name,
        value,
        level=level,
        blocked=(*context.blocked(part), *([found.why] if tost is None else [])),
        intervals=() if tost is None else context.three(estimate, tost.se, tost.df, shown=_scale(context)),
        n=part.n,
        df=None if tost is None else tost.df,
        groups=None if part.groups is None else len(set(part.groups)),
        formula=formula,
        source=TOST,
        working=_working(context, part),
        sampling=None if tost is None else _sampling(context, value, tost.se, tost.df),
        rows=context.rows(part.rows),
    )


def _centre(part: Compared) -> float:
    if part.paired:
        return float(part.differences.mean())
    scale = np.log if part.is_ratio else np.asarray
    return float(np.mean(scale(part.new)) - np.mean(scale(part.current)))


def _scale(context: Context):  # type: ignore[no-untyped-def]
    return context.settings.shown if context.settings.is_ratio else float


def _sampling(context: Context, value: float, se: float, df: float) -> Sampling:
    """Near its value a ratio scatters by value · se of the logarithm."""
    return Sampling(kind="mean", se=value * se if context.settings.is_ratio else se, df=None if math.isinf(df) else df)


def _formula(context: Context, part: Compared) -> str:
    if not part.paired:
        means = "geometric mean" if part.is_ratio else "mean"
        return f"{means} of the new results {'/' if part.is_ratio else '−'} {means} of the current ones"
    of = "ln(new/current)" if part.is_ratio else "new − current"
    mean = f"mean of the group means of {of}" if context.settings.group_means else f"mean of {of} over the pairs"
    return f"100 · exp({mean})" if part.is_ratio else mean


def _working(context: Context, part: Compared) -> Working:
    symbols = _symbols(context, part)
    core = "{mean_new} − {mean_current}" if not part.paired else "{sum} / {n}"
    if not part.is_ratio:
        return Working(expression=core, symbols=symbols)
    return Working(expression=f"100 · {{e}}^({core})", symbols=(E, *symbols))


def _symbols(context: Context, part: Compared) -> tuple[Symbol, ...]:
    unit = "" if part.is_ratio else context.unit
    if not part.paired:
        scale, of = (np.log, "logarithms of the ") if part.is_ratio else (np.asarray, "")
        return (
            symbol("mean_new", "x̄_n", f"mean of the {of}new results", np.mean(scale(part.new)), unit),
            symbol("mean_current", "x̄_c", f"mean of the {of}current results", np.mean(scale(part.current)), unit),
        )
    of = "ln(new/current)" if part.is_ratio else "new − current"
    if part.groups is None:
        total = math.fsum(part.differences)
        return symbol("sum", "Σd", f"sum of {of}", total, unit), symbol("n", "n", "number of pairs", part.n)
    labels = list(dict.fromkeys(part.groups))
    means = [np.mean([d for d, g in zip(part.differences, part.groups, strict=True) if g == label]) for label in labels]
    return (
        symbol("sum", "Σd̄", f"sum of the group means of {of}", math.fsum(means), unit),
        symbol("n", "p", "number of groups", len(labels)),
    )


def _plain_difference(context: Context, part: Compared) -> Finding:
    """Bias of the level in the method's unit, beside the ratio."""
    name = f"{context.prefix}_difference"
    formula = "mean of new − current over the pairs" if part.paired else "mean of the new − mean of the current results"
    plain = replace(part, is_ratio=False)
    try:
        tost = tost_mean(plain.differences, 1.0) if part.paired else tost_two_means(part.new, part.current, 1.0)
    except ValueError as reason:
        return context.missing(name, _words(part, str(reason)), formula=formula, level=part.level, n=part.n)
    return context.finding(
        name,
        tost.estimate,
        level=part.level,
        blocked=context.blocked(part),
        intervals=context.three(tost.estimate, tost.se, tost.df),
        n=part.n,
        df=tost.df,
        formula=formula,
        source=TOST,
        working=Working(
            expression="{sum} / {n}" if part.paired else "{mean_new} − {mean_current}", symbols=_symbols(context, plain)
        ),
        rows=context.rows(part.rows),
    )


def _shift(context: Context) -> Finding:
    settings, part, name = context.settings, context.all, context.settings.primary
    formula = _formula(context, part)
    if part.n == 0:
        return context.missing(name, "no pair was measured", formula=formula, n=0)
    found = shift_test(
        part.differences,
        settings.s_of_difference,
        settings.spread.df,
        settings.critical_shift,
        false_alarm=settings.shift.false_alarm,
    )
    value = settings.shown(found.estimate)
    return context.finding(
        name,
        value,
        blocked=context.blocked(part) if part.n > 1 else (),
        intervals=context.three(found.estimate, found.se, found.df, shown=_scale(context)),
        n=part.n,
        df=found.df,
        formula=f"{formula}; limits from the spread stated in the protocol",
        source=SHIFT_SOURCE,
        working=_working(context, part),
        sampling=_sampling(context, value, found.se, found.df),
        rows=context.rows(part.rows),
    )
