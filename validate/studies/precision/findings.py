"""Findings of one level: the mean and the standard deviations; what is derived from them is in `ratios`."""

from __future__ import annotations

from dataclasses import replace

from validate.stats.intervals import t_limits
from validate.studies.precision.context import (
    ISO_5725_2,
    ISO_5725_3,
    LevelContext,
    interval,
    sampling,
    spread_limits,
)
from validate.studies.precision.declared import names_of
from validate.studies.precision.kinds import BY_NAME, HORRATS
from validate.studies.precision.model import FEW_LEVELS, Components, Estimate
from validate.studies.precision.ratios import horrat, limit, relative, to_claim
from validate.studies.precision.words import RELATIVE, counted
from validate.vocabulary.finding import Finding, Interval, Sampling, Working


def missing_findings(context: LevelContext, reason: str) -> tuple[Finding, ...]:
    """Every finding of the level, without a value, saying why."""
    return tuple(
        context.finding(name, None, reason=reason, n=context.data.n, formula=BY_NAME[name].title, source=ISO_5725_2)
        for name in names_of(context.settings)
    )


def level_findings(context: LevelContext, found: Components) -> tuple[Finding, ...]:
    """The findings of a level whose components were estimated, in the order of their declaration."""
    spreads = {"s_r": _spread(context, "s_r", found.s_r, found), "s_between": _between(context, found)}
    spreads |= {name: _spread(context, name, estimate, found) for name, estimate in found.totals.items()}
    relatives = {RELATIVE[name]: relative(context, spreads[name], found) for name in spreads if name in RELATIVE}
    limits = {"r": limit(context, "r", spreads["s_r"])}
    if "s_reproducibility" in spreads:
        limits["R"] = limit(context, "R", spreads["s_reproducibility"])
    findings = {"mean": _mean(context, found), **spreads, **relatives, **limits}
    findings |= {"s_r_to_claim": to_claim(context, spreads["s_r"])} if context.settings.claimed else {}
    wanted = names_of(context.settings)
    findings |= {name: horrat(context, name, relatives, found) for name in wanted if name in HORRATS}
    return tuple(findings[name] for name in wanted)


def _mean(context: LevelContext, found: Components) -> Finding:
    basis = "components" if context.settings.design.kind == "crossed" else "group means"

    def limits(use: str, level: float) -> Interval:
        limits = t_limits(found.mean, found.se_mean, found.df_mean, level)
        return interval(use, limits, context.job.method.unit, method=f"t, from the {basis}")

    return context.finding(
        "mean",
        found.mean,
        blocked=context.blocked_readings,
        intervals=context.three(limits),
        n=found.n,
        df=found.df_mean,
        groups=found.groups,
        formula="sum of all results / their number",
        source=ISO_5725_2,
        working=Working(expression="{sum} / {n}", symbols=found.mean_symbols),
        sampling=Sampling(kind="mean", df=found.df_mean, se=found.se_mean),
    )


def _spread(context: LevelContext, name: str, estimate: Estimate, found: Components) -> Finding:
    def limits(use: str, level: float) -> Interval:
        found_limits = spread_limits(estimate, level, guarded=use == "not_met")
        return interval(use, found_limits, context.job.method.unit, parts=estimate.parts)

    notes = []
    if name != "s_r" and found.negative:
        notes.append(f"negative variance estimate for {', '.join(found.negative)}: counted as 0")
    if estimate.why_no_met:
        notes.append(estimate.why_no_met)
    intervals = tuple(each for each in context.three(limits) if each.use != "met" or not estimate.why_no_met)
    return context.finding(
        name,
        estimate.value,
        blocked=(*context.blocked_readings, *context.blocked_spread(estimate.value)),
        intervals=intervals,
        n=found.n,
        df=estimate.df,
        groups=estimate.groups,
        formula=_formula(name, estimate),
        source=ISO_5725_2 if context.settings.design.kind == "one-way" or name == "s_r" else ISO_5725_3,
        working=Working(expression=estimate.expression, symbols=estimate.symbols),
        sampling=sampling(estimate),
        notes=tuple(notes),
    )


def _between(context: LevelContext, found: Components) -> Finding:
    outer = context.settings.design.outer.called
    finding = _spread(context, "s_between", replace(found.s_between, terms=found.s_r.terms), found)
    few = (f"few levels: {counted(found.groups, outer)}, fewer than {FEW_LEVELS}",) if found.groups < FEW_LEVELS else ()
    notes = ()
    if found.s_between.value == 0:
        notes = ("the variance estimate is not positive: shown as 0, the estimate stands in the table of components",)
    return replace(
        finding,
        blocked=(*context.blocked_readings, *few),
        intervals=(interval("shown", found.s_between_limits, finding.unit),) if found.s_between_limits else (),
        sampling=None,
        notes=notes,
    )


def _formula(name: str, estimate: Estimate) -> str:
    """The arithmetic with the printed symbols in place of the braces."""
    text = estimate.expression
    for symbol in estimate.symbols:
        text = text.replace(f"{{{symbol.name}}}", symbol.printed)
    return text
