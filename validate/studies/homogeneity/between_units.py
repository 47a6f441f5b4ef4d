"""Findings on homogeneity: s_an, s_sam, both rules, what they mean for σ_pt and the assigned value."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from validate.stats.calibration_line import line
from validate.stats.homogeneity import Homogeneity, widened_sigma
from validate.stats.intervals import sd_limits, t_limits, t_probability
from validate.studies.homogeneity.context import GUIDE_35, ISO_13528, IUPAC, Context, interval, symbol
from validate.vocabulary.finding import Finding, RuleOutcome, Symbol, Working


def findings(context: Context, found: Homogeneity) -> tuple[Finding, ...]:
    """In the order of their declaration; those on σ_pt without a value where there is none."""
    return (
        _mean(context, found),
        _s_an(context, found),
        _s_sam(context, found),
        *_on_sigma(context, found),
        _u_hom(context, found),
        *_trend(context),
    )


def _sums(context: Context, found: Homogeneity) -> dict[str, Symbol]:
    parts, squared = found.components, f"({context.unit})²"
    return {
        "ss_w": symbol("ss_w", "SS_w", "sum of squares within units", parts.ss_within, squared),
        "df_w": symbol("df_w", "ν_w", "degrees of freedom within units", float(parts.df_within), ""),
        "ms_w": symbol("ms_w", "MS_w", "mean square within units", parts.ms_within, squared),
        "ms_b": symbol("ms_b", "MS_b", "mean square between units", parts.ms_between, squared),
        "n0": symbol("n0", "n₀", "results of a unit", parts.n0, ""),
    }


def _common(found: Homogeneity) -> dict[str, object]:
    return {"n": found.n, "groups": found.n_units}


def _mean(context: Context, found: Homogeneity) -> Finding:
    total = symbol("total", "Σx", "sum of the results", float(np.sum(context.samples.first.values)), context.unit)
    se = float((found.components.variance_of_means / found.n_units) ** 0.5)
    shown = t_limits(found.mean, se, found.n_units - 1, 0.95)
    return context.finding(
        "mean",
        found.mean,
        intervals=(interval("shown", shown.low, shown.high, 0.95, "t, from unit means"),),
        df=found.n_units - 1,
        formula="Σx / N",
        source=ISO_13528,
        working=Working(
            expression="{total} / {n}", symbols=(total, symbol("n", "N", "number of results", found.n, ""))
        ),
        **_common(found),
    )


def _s_an(context: Context, found: Homogeneity) -> Finding:
    sums, limits = _sums(context, found), sd_limits(found.s_an, found.components.df_within, 0.95)
    return context.finding(
        "s_an",
        found.s_an,
        intervals=(interval("shown", limits.low, limits.high, 0.95, limits.method),),
        df=found.components.df_within,
        formula="√(SS_w / ν_w); for duplicates √(ΣD²/(2m))",
        source=f"{ISO_13528}; {IUPAC}",
        working=Working(expression="√({ss_w} / {df_w})", symbols=(sums["ss_w"], sums["df_w"])),
        **_common(found),
    )


def _s_sam(context: Context, found: Homogeneity) -> Finding:
    sums, limits = _sums(context, found), found.s_sam_limits
    notes = ("the estimate of the variance is not positive: counted as 0",) if found.variance_sam_raw <= 0 else ()
    return context.finding(
        "s_sam",
        found.s_sam,
        intervals=(interval("shown", limits.low, limits.high, 0.95, f"{limits.method}, for information"),),
        df=found.n_units - 1,
        formula="√(max(0, (MS_b − MS_w) / n₀))",
        source=f"{ISO_13528}; {IUPAC}",
        working=Working(
            expression="√(max(0, ({ms_b} − {ms_w}) / {n0}))", symbols=(sums["ms_b"], sums["ms_w"], sums["n0"])
        ),
        notes=notes,
        **_common(found),
    )


def rules(found: Homogeneity) -> tuple[RuleOutcome, RuleOutcome]:
    """The stricter rule first."""

    def outcome(name: str, limit: float, words: str, holds: bool) -> RuleOutcome:
        relation = "is not above" if holds else "is above"
        return RuleOutcome(
            name=name, holds=holds, why=f"s_sam {found.s_sam:.4g} {relation} {words} = {limit:.4g} ({name})"
        )

    return (
        outcome("ISO 13528", found.iso_critical, "0.3·σ_pt", found.iso_met),
        outcome("IUPAC 2006", found.iupac_critical, "√(F₁·(0.3·σ_pt)² + F₂·s_an²)", found.iupac_met),
    )


def _on_sigma(context: Context, found: Homogeneity) -> Iterator[Finding]:
    sigma = context.sigma
    if sigma.value is None:
        for name in ("s_sam_share", "s_an_share", "sigma_widened"):
            yield context.finding(
                name, None, reason=sigma.reason, formula="needs σ_pt", source=ISO_13528, **_common(found)
            )
        return
    s_pt = symbol("sigma", "σ_pt", f"standard deviation for scores, {sigma.words}", sigma.value, context.unit)
    s_sam = symbol("s_sam", "s_sam", "standard deviation between units", found.s_sam, context.unit)
    s_an = symbol("s_an", "s_an", "standard deviation within units", found.s_an, context.unit)
    limits = found.s_sam_limits
    yield context.finding(
        "s_sam_share",
        found.s_sam / sigma.value,
        blocked=(*context.blocked_readings, *context.blocked_spread(found)),
        intervals=(
            interval(
                "shown", limits.low / sigma.value, limits.high / sigma.value, 0.95, f"{limits.method}, for information"
            ),
        ),
        df=found.n_units - 1,
        formula="s_sam / σ_pt; met by ISO 13528 at no more than 0.3, not met where the IUPAC rule fails too",
        source=f"{ISO_13528}; {IUPAC}",
        working=Working(expression="{s_sam} / {sigma}", symbols=(s_sam, s_pt)),
        rules=rules(found),
        **_common(found),
    )
    yield context.finding(
        "s_an_share",
        found.s_an / sigma.value,
        df=found.components.df_within,
        formula="s_an / σ_pt; above 0.5 the measurement is too coarse to see what it looks for",
        source=IUPAC,
        working=Working(expression="{s_an} / {sigma}", symbols=(s_an, s_pt)),
        **_common(found),
    )
    yield context.finding(
        "sigma_widened",
        widened_sigma(sigma.value, found.s_sam),
        formula="√(σ_pt² + s_sam²)",
        source=ISO_13528,
        working=Working(expression="√({sigma}^2 + {s_sam}^2)", symbols=(s_pt, s_sam)),
        **_common(found),
    )


def _u_hom(context: Context, found: Homogeneity) -> Finding:
    sums = _sums(context, found)
    s_sam = symbol("s_sam", "s_sam", "standard deviation between units", found.s_sam, context.unit)
    return context.finding(
        "u_hom",
        max(found.s_sam, found.u_hidden),
        formula="the larger of s_sam and what repeatability can hide, √(MS_w/n₀)·(2/ν_w)^¼",
        source=GUIDE_35,
        working=Working(
            expression="max({s_sam}, √({ms_w} / {n0}) · (2 / {df_w})^0.25)",
            symbols=(s_sam, sums["ms_w"], sums["n0"], sums["df_w"]),
        ),
        **_common(found),
    )


def _trend(context: Context) -> Iterator[Finding]:
    """The change of the unit means from the first to the last place; nothing where the order is not known."""
    occasion = context.samples.first
    order = occasion.unit_order
    if order is None or order.size < 4 or np.ptp(order) == 0:
        return
    span = float(np.ptp(order))
    fit = line(order, occasion.unit_means)
    low, high = (span * end for end in (fit.slope_limits.low, fit.slope_limits.high))
    slope = symbol(
        "slope", "b", "slope of the unit means over the filling order", fit.slope, f"{context.unit} per place"
    )
    p = 2 * t_probability(-abs(fit.slope) / fit.se_slope, fit.df) if fit.se_slope > 0 else None
    yield context.finding(
        "filling_trend",
        span * fit.slope,
        intervals=(interval("shown", low, high, 0.95, "t, slope of the line"),),
        n=order.size,
        groups=order.size,
        df=fit.df,
        formula="slope of the unit means · places from first to last",
        source=ISO_13528,
        working=Working(
            expression="{slope} · {span}", symbols=(slope, symbol("span", "Δ", "places from first to last", span, ""))
        ),
        notes=() if p is None else (f"p = {p:.2g} for no trend",),
    )


def has_trend(found: tuple[Finding, ...]) -> bool:
    """Whether the 95 % interval of the trend leaves out 0."""
    trend = next((f for f in found if f.name == "filling_trend"), None)
    shown = None if trend is None else trend.interval("shown")
    return shown is not None and not shown.low <= 0 <= shown.high
