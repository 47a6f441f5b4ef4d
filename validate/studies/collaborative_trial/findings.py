"""Findings of one level: the mean, the standard deviations, and what is a known multiple of them."""

from __future__ import annotations

import math

from validate.stats.intervals import mls_limits, satterthwaite_limits, sd_limits, t_limits
from validate.studies.collaborative_trial.context import Context, interval
from validate.studies.collaborative_trial.estimates import LevelEstimate, Spread
from validate.studies.collaborative_trial.kinds import BY_NAME, RELATIVE
from validate.studies.collaborative_trial.multiples import horrat, limit, relative
from validate.vocabulary.finding import Finding, Interval, Sampling, Symbol, Working

FEW_LABORATORIES = 5


def missing_findings(context: Context, reason: str) -> tuple[Finding, ...]:
    """Every finding of the level, without a value, saying why."""
    return tuple(
        context.finding(
            name, None, reason=reason, n=context.data.values.size, formula=BY_NAME[name].title, source=context.source
        )
        for name in context.settings.names
    )


def level_findings(context: Context, found: LevelEstimate) -> tuple[Finding, ...]:
    """The findings of a level whose precision was estimated, in the order of their declaration."""
    spreads = {
        "s_r": _spread(context, found, "s_r", found.s_r, across=False),
        "s_reproducibility": _spread(context, found, "s_reproducibility", found.s_R),
        "s_L": _between(context, found),
    }
    if found.s_within is not None:
        spreads["s_intermediate"] = _spread(context, found, "s_intermediate", found.s_within)
    relatives = {RELATIVE[name]: relative(context, spreads[name], found.mean) for name in spreads if name in RELATIVE}
    made = {"mean": _mean(context, found), **spreads, **relatives}
    made |= {"r": limit(context, "r", spreads["s_r"]), "R": limit(context, "R", spreads["s_reproducibility"])}
    made |= {name: horrat(context, name, relatives, found.mean) for name in context.settings.horrats}
    wanted = context.settings.names
    return tuple(made[name] for name in BY_NAME if name in wanted and name in made)


def _mean(context: Context, found: LevelEstimate) -> Finding:
    def limits(use: str, level: float) -> Interval:
        shown = t_limits(found.mean, found.se_mean, found.laboratories - 1, level)
        return interval(use, shown.low, shown.high, level, "t, from the means of the laboratories")

    total = Symbol(
        name="total", printed="Σx", meaning="sum of the results", value=_total(context, found), unit=context.unit
    )
    return context.finding(
        "mean",
        found.mean,
        blocked=context.blocked_readings,
        intervals=context.three(limits),
        n=found.n,
        df=found.laboratories - 1,
        groups=found.laboratories,
        formula="sum of all results / their number",
        source=context.source,
        working=Working(
            expression="{total} / {n}",
            symbols=(total, Symbol(name="n", printed="N", meaning="number of results", value=found.n, unit="")),
        ),
        sampling=Sampling(kind="mean", se=found.se_mean, df=found.laboratories - 1),
    )


def _total(context: Context, found: LevelEstimate) -> float:
    if context.data.sample is None:
        return math.fsum(context.data.values.tolist())
    _, first, second, _ = context.data.pairs()
    return math.fsum([*first.tolist(), *second.tolist()])


def _spread(context: Context, found: LevelEstimate, name: str, spread: Spread, *, across: bool = True) -> Finding:
    def limits(use: str, level: float) -> Interval:
        return limits_of(use, level, spread, guarded=use == "not_met")

    return context.finding(
        name,
        spread.value,
        blocked=(*context.blocked_readings, *context.blocked_spread(spread.value)),
        intervals=context.three(limits),
        n=found.n,
        df=spread.df,
        groups=found.laboratories if across else None,
        formula=_formula(spread),
        source=context.source,
        working=Working(expression=spread.expression, symbols=spread.symbols),
        sampling=_sampling(spread),
        notes=_few(found) if across else (),
    )


def _few(found: LevelEstimate) -> tuple[str, ...]:
    if found.laboratories >= FEW_LABORATORIES:
        return ()
    return (f"{found.laboratories} laboratories: the spread between them is hardly known",)


def _between(context: Context, found: LevelEstimate) -> Finding:
    few = (f"fewer than {FEW_LABORATORIES} laboratories",) if found.laboratories < FEW_LABORATORIES else ()
    notes = ()
    if found.raw_between < 0:
        notes = (f"the variance estimate is negative (−{-found.raw_between:.3g}) and counted as 0",)
    limits = found.s_L_limits
    return context.finding(
        "s_L",
        found.s_L.value,
        blocked=(*context.blocked_readings, *few),
        intervals=(interval("shown", limits.low, limits.high, 0.95, f"{limits.method}, for information"),),
        n=found.n,
        df=found.s_L.df,
        groups=found.laboratories,
        formula=_formula(found.s_L),
        source=context.source,
        working=Working(expression=found.s_L.expression, symbols=found.s_L.symbols),
        notes=notes,
    )


def limits_of(use: str, level: float, spread: Spread, *, guarded: bool = False) -> Interval:
    """Chi-square for one mean square, MLS for a sum; guarded: lower limit not above Satterthwaite's."""
    if len(spread.terms) == 1:
        found = sd_limits(spread.value, spread.df, level)
        return interval(use, found.low, found.high, level, found.method)
    found = mls_limits(spread.terms, level)
    if not guarded:
        return interval(use, found.low, found.high, level, found.method)
    low = min(found.low, satterthwaite_limits(spread.terms, level).low)
    return interval(use, low, found.high, level, f"{found.method}, lower limit not above Satterthwaite's")


def _sampling(spread: Spread) -> Sampling:
    if len(spread.terms) == 1:
        return Sampling(kind="scaled_chi", df=spread.df)
    total = sum(term.value for term in spread.terms)
    count = len(spread.terms)
    return Sampling(
        kind="scaled_chi_sum",
        df=spread.df,
        shares=tuple(t.value / total if total else 1 / count for t in spread.terms),
        dfs=tuple(float(term.df) for term in spread.terms),
        floors=spread.floors,
    )


def _formula(spread: Spread) -> str:
    text = spread.expression
    for symbol in spread.symbols:
        text = text.replace(f"{{{symbol.name}}}", symbol.printed)
    return text
