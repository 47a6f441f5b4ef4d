"""Findings on stability: the change between two occasions, or along the line over several."""

from __future__ import annotations

from dataclasses import dataclass

from validate.stats import homogeneity
from validate.stats.intervals import t_quantile
from validate.studies.homogeneity.context import GUIDE_35, ISO_13528, Context, interval, symbol
from validate.studies.homogeneity.kinds import OF_STABILITY
from validate.vocabulary.finding import Finding, Symbol, Working

SEVERAL = 3
"""From this number of occasions on a line is drawn."""


@dataclass(frozen=True)
class Change:
    """The change, its standard error and what it was computed from; a positive one is a rise."""

    value: float
    u: float
    df: float
    expression: str
    symbols: tuple[Symbol, ...]
    formula: str
    source: str
    widened_limit: float | None
    widened_met: bool | None
    n: int


def change_of(context: Context) -> Change | str:
    """The change of the material, or why there is none."""
    occasions, sigma = context.samples.occasions, context.sigma.value
    if len(occasions) < 2:
        return "the table holds no later occasion"
    if sigma is None:
        return context.sigma.reason
    try:
        return _along_the_line(context, sigma) if len(occasions) >= SEVERAL else _between_two(context, sigma)
    except ValueError as reason:
        return str(reason)


def _between_two(context: Context, sigma: float) -> Change:
    before, after = (occasion.unit_means for occasion in context.samples.occasions)
    for which, means in (("first", before), ("later", after)):
        if means.size < 2:
            raise ValueError(f"one unit was measured on the {which} occasion, at least 2 are needed")
    found = homogeneity.stability(before, after, sigma)
    if found.df is None:
        raise ValueError(found.reason)
    return Change(
        value=-found.difference,
        u=found.u,
        df=found.df,
        expression="{after} − {before}",
        symbols=(
            symbol("after", "ȳ₂", "mean of the unit means, later", float(after.mean()), context.unit),
            symbol("before", "ȳ₁", "mean of the unit means, first", float(before.mean()), context.unit),
        ),
        formula="ȳ₂ − ȳ₁, means of the unit means on the two occasions",
        source=ISO_13528,
        widened_limit=found.widened_limit,
        widened_met=found.widened_met,
        n=found.n_before + found.n_after,
    )


def _along_the_line(context: Context, sigma: float) -> Change:
    occasions = context.samples.occasions
    period = context.settings.stability.period if context.settings.stability else occasions[-1].days - occasions[0].days
    days, means = [o.days for o in occasions], [float(o.unit_means.mean()) for o in occasions]
    found = homogeneity.stability_trend(days, means, sigma, period=period)
    return Change(
        value=found.change,
        u=found.u_stability,
        df=found.df,
        expression="{slope} · {period}",
        symbols=(
            symbol("slope", "b", "slope of the occasion means", found.slope, f"{context.unit} per day"),
            symbol("period", "T", "time of use", period, "d"),
        ),
        formula="slope of the means of the occasions · time of use",
        source=f"{GUIDE_35}; {ISO_13528}",
        widened_limit=None,
        widened_met=None,
        n=found.n_occasions,
    )


def findings(context: Context, change: Change | str) -> tuple[Finding, ...]:
    """Change, its share of σ_pt and u_stab; without values where the change cannot be known."""
    wanted = context.settings.stability is not None or len(context.samples.occasions) > 1
    if not wanted:
        return ()
    everything = context.samples.occasions
    if isinstance(change, str):
        return tuple(
            context.finding(
                name, None, occasions=everything, reason=change, formula="change with time", source=ISO_13528
            )
            for name in OF_STABILITY
        )
    sigma = context.sigma.value
    common = {"occasions": everything, "n": change.n, "df": change.df, "source": change.source}
    printed = context.finding(
        "stability_change",
        change.value,
        intervals=(interval("shown", *_ends(change, 0.95, 1.0), 0.95, "t"),),
        formula=change.formula,
        working=Working(expression=change.expression, symbols=change.symbols),
        **common,
    )
    s_pt = symbol("sigma", "σ_pt", f"standard deviation for scores, {context.sigma.words}", sigma, context.unit)
    delta = symbol("change", "Δ", "change of the material", change.value, context.unit)
    levels = (("shown", 0.95), ("met", 0.90), ("not_met", context.job.not_met_level))
    share = context.finding(
        "stability_share",
        change.value / sigma,
        blocked=(*context.blocked_readings, *_too_early(context)),
        intervals=tuple(interval(use, *_ends(change, level, sigma), level, "t") for use, level in levels),
        formula="Δ / σ_pt; shown within ±0.3 by its 90 % interval",
        working=Working(expression="{change} / {sigma}", symbols=(delta, s_pt)),
        **common,
    )
    u_stab = context.finding("u_stab", change.u, formula="standard error of the change", notes=_told(change), **common)
    return (printed, share, u_stab)


def _too_early(context: Context) -> tuple[str, ...]:
    """Beyond the last occasion nobody has looked."""
    asked, occasions = context.settings.stability, context.samples.occasions
    seen = occasions[-1].days - occasions[0].days
    if asked is None or asked.period <= seen:
        return ()
    return (f"the last occasion is {seen:g} days after the first, the material is used for {asked.period:g} days",)


def _ends(change: Change, level: float, scale: float) -> tuple[float, float]:
    half = t_quantile((1 + level) / 2, change.df) * change.u
    return (change.value - half) / scale, (change.value + half) / scale


def _told(change: Change) -> tuple[str, ...]:
    if abs(change.value) > t_quantile(0.975, change.df) * change.u:
        return ("the change itself is seen: it is told, not hidden in u_stab",)
    return ()
