"""The three designs: one factor, one factor inside another, crossed factors.

The formulas are those of `validate.stats.precision`; here they get their words, the sums
that a reviewer ticks off, and the terms on which the limits of each total rest.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from validate.stats import mean_squares, precision
from validate.stats.intervals import Limits, Term, satterthwaite_df
from validate.studies.precision.groups import LevelData
from validate.studies.precision.model import Component, Components, Estimate, assembled, component_row, variance_symbol
from validate.studies.precision.settings import Design
from validate.studies.precision.words import TOTAL_FINDING, plural, scope_of
from validate.vocabulary.finding import Symbol

INCOMPLETE = (
    "not every combination was measured and repeated: the upper limit is approximate, the true value lies above it "
    "in up to 12 % of studies instead of 5 %, so that it cannot show that a bound is met"
)
"""Simulated for incomplete crossings of 6 days × 2 to 3 analysts: 2 to 12 %, most where few analysts differ."""


def components(data: LevelData, design: Design, unit: str) -> Components:
    """Estimate the components of one level; ValueError says why they cannot be."""
    estimate = {"one-way": _one_way, "nested": _nested, "crossed": _crossed}[design.kind]
    return estimate(data, design, unit)


def _one_way(data: LevelData, design: Design, unit: str) -> Components:
    outer, codes = design.outer, data.codes[design.outer.column]
    found = precision.one_way(data.values, codes)
    ms_w, ms_b = (
        variance_symbol("ms_within", "MS_w", "mean square within groups", found.ms_within, unit),
        variance_symbol("ms_between", "MS_b", f"mean square between {plural(outer.called)}", found.ms_between, unit),
    )
    n0 = Symbol(name="n0", printed="n₀", meaning="effective number of results in a group", value=found.n0, unit="")
    difference = "max(0, ({ms_between} − {ms_within}) / {n0})"
    total = Estimate(
        value=found.s_intermediate,
        terms=found.terms,
        df=found.df_intermediate,
        expression=f"√({{ms_within}} + {difference})",
        symbols=(ms_w, ms_b, n0),
        groups=found.n_groups,
        floors=(found.floor,),
        parts=(
            f"variance of the unweighted means of {plural(outer.called)}",
            f"(1 − 1/n_h) · MS_w, n_h the harmonic mean of the results per {outer.called}",
        ),
    )
    row = component_row(
        outer.called, found.variance_between_raw, found.n_groups, found.df_between, found.s_between_limits
    )
    return assembled(
        data,
        design,
        unit,
        mean=found.mean,
        s_r=_repeatability(found, unit),
        s_between=Estimate(found.s_between, (), found.df_between, f"√({difference})", (ms_b, ms_w, n0), found.n_groups),
        s_between_limits=found.s_between_limits,
        totals={TOTAL_FINDING[scope_of(outer.called)]: total},
        factor_rows=(row,),
        mean_error=_mean_error(data.values, codes, found.mean),
    )


def _nested(data: LevelData, design: Design, unit: str) -> Components:
    outer, inner = design.outer, design.inner[0]
    codes = data.codes[outer.column]
    found = precision.nested(data.values, codes, data.codes[inner.column])
    squares = mean_squares.nested(data.values, {"outer": codes, "inner": data.codes[inner.column]})
    words = {
        "ms_within": ("MS_w", "mean square within the innermost groups", found.ms_within),
        "ms_inner": ("MS_i", f"mean square between {plural(inner.called)} of one {outer.called}", found.ms_inner),
        "ms_outer": ("MS_o", f"mean square between {plural(outer.called)}", found.ms_outer),
    }
    s_w, s_i, s_o = (variance_symbol(name, *word, unit) for name, word in words.items())
    k_i, k_oi, k_o = (
        Symbol(name=name, printed=printed, meaning="coefficient of the expected mean square", value=value, unit="")
        for name, printed, value in (
            ("k_inner", "k_i", found.k_inner),
            ("k_outer_inner", "k_oi", found.k_outer_inner),
            ("k_outer", "k_o", found.k_outer),
        )
    )
    var_inner = "({ms_inner} − {ms_within}) / {k_inner}"
    var_outer = f"({{ms_outer}} − {{ms_within}} − {{k_outer_inner}} · {var_inner}) / {{k_outer}}"
    inner_total = Estimate(
        found.s_within_outer, found.terms_within_outer, satterthwaite_df(found.terms_within_outer),
        f"√({{ms_within}} + max(0, {var_inner}))", (s_w, s_i, k_i), found.n_inner,
        _floors((found.ms_within, found.terms_within_outer[1])), _shares(words, "ms_inner", "ms_within"),
    )  # fmt: skip
    symbols = (s_w, s_i, s_o, k_i, k_oi, k_o)
    total = Estimate(
        found.s_intermediate, found.terms, found.df_intermediate,
        f"√({{ms_within}} + max(0, {var_inner}) + max(0, {var_outer}))", symbols, found.n_outer,
        _floors((found.terms_within_outer[0].value, found.terms[1]), (found.ms_within, found.terms[2])),
        _shares(words, "ms_outer", "ms_inner", "ms_within"),
    )  # fmt: skip
    limits = {name: _rooted(squares.component_limits(name, level=0.95)) for name in ("outer", "inner")}
    return assembled(
        data,
        design,
        unit,
        mean=found.mean,
        s_r=_repeatability(found, unit),
        s_between=Estimate(found.s_outer, (), found.df_outer, f"√(max(0, {var_outer}))", symbols, found.n_outer),
        s_between_limits=limits["outer"],
        totals={TOTAL_FINDING[scope_of(inner.called)]: inner_total, TOTAL_FINDING[scope_of(outer.called)]: total},
        factor_rows=(
            component_row(outer.called, found.variance_outer_raw, found.n_outer, found.df_outer, limits["outer"]),
            component_row(
                f"{inner.called} within {outer.called}",
                found.variance_inner_raw, found.n_inner, found.df_inner, limits["inner"],
            ),
        ),
        mean_error=_mean_error(data.values, codes, found.mean),
    )  # fmt: skip


def _crossed(data: LevelData, design: Design, unit: str) -> Components:
    outer = design.outer.called
    factors = {factor.called: data.codes[factor.column] for factor in design.factors}
    found = precision.crossed(data.values, factors)
    effects = tuple(found.levels)
    symbols = {
        effect: variance_symbol(
            f"v{i}", f"s²({effect})", f"variance component of {effect}", found.components[effect], unit
        )
        for i, effect in enumerate(effects)
    }
    v_r = variance_symbol("v_r", "s_r²", "residual variance", found.s_r**2, unit)
    everything = " + ".join(f"{{{symbol.name}}}" for symbol in symbols.values())
    total = Estimate(
        found.s_intermediate,
        found.terms,
        found.df_intermediate,
        f"√({{v_r}} + {everything})",
        (v_r, *symbols.values()),
        found.levels[outer],
        why_no_met="" if found.complete else INCOMPLETE,
    )
    rows = _crossed_rows(data, factors, found)
    return assembled(
        data,
        design,
        unit,
        mean=float(data.values.mean()),
        s_r=Estimate(found.s_r, (Term(found.s_r**2, found.df_within),), found.df_within, "√({v_r})", (v_r,)),
        s_between=Estimate(
            math.sqrt(found.components[outer]),
            (),
            found.levels[outer] - 1,
            f"√({{{symbols[outer].name}}})",
            (symbols[outer],),
            found.levels[outer],
        ),
        s_between_limits=_crossed_limits(data, factors, found)[outer] if found.complete else None,
        totals={"s_intermediate": total},
        factor_rows=rows,
        mean_error=_crossed_mean_error(data, factors, found),
    )


def _crossed_rows(
    data: LevelData, factors: Mapping[str, np.ndarray], found: precision.Crossed
) -> tuple[Component, ...]:
    """REML components; the raw variance and the limits come from mean squares where the crossing is complete."""
    if not found.complete:
        method = "REML; no limits, the crossing is incomplete"
        return tuple(
            Component(
                effect, found.components[effect], math.sqrt(found.components[effect]), count, None, None, None, method
            )
            for effect, count in found.levels.items()
        )
    squares, limits = mean_squares.crossed(data.values, factors), _crossed_limits(data, factors, found)
    return tuple(
        Component(
            title=effect,
            raw=squares.component(effect),
            sd=math.sqrt(found.components[effect]),
            count=found.levels[effect],
            df=df,
            low=limits[effect].low,
            high=limits[effect].high,
            method=limits[effect].method,
        )
        for effect, df in zip(squares.effects[:-1], squares.dfs[:-1], strict=True)
    )


def _crossed_limits(data: LevelData, factors: Mapping[str, np.ndarray], found: precision.Crossed) -> dict[str, Limits]:
    """Limits of each component of a complete crossing, from its mean squares."""
    squares = mean_squares.crossed(data.values, factors)
    limits = {effect: _rooted(squares.component_limits(effect, level=0.95)) for effect in found.levels}
    return {effect: replace(each, method=f"REML; {each.method}") for effect, each in limits.items()}


def _repeatability(found: precision.OneWay | precision.Nested, unit: str) -> Estimate:
    ss = variance_symbol("ss_within", "SS_w", "sum of squares within groups", found.ss_within, unit)
    df = Symbol(
        name="df_within", printed="ν_w", meaning="degrees of freedom within groups", value=found.df_within, unit=""
    )
    term = Term(found.ms_within, found.df_within)
    return Estimate(found.s_r, (term,), found.df_within, "√({ss_within} / {df_within})", (ss, df))


def _floors(*pairs: tuple[float, Term]) -> tuple[float, ...]:
    """Mean square from the inside over its term; none where a term does not count."""
    return tuple(square / term.value for square, term in pairs) if all(term.value > 0 for _, term in pairs) else ()


def _shares(words: Mapping[str, tuple[str, str, float]], *names: str) -> tuple[str, ...]:
    """What the terms of a total are: each of the mean squares with the coefficient that it has in the sum."""
    return tuple(f"share of the {words[name][1]}, from unweighted means" for name in names)


def _rooted(variance: mean_squares.VarianceLimits) -> Limits:
    low, high = math.sqrt(variance.low), math.sqrt(variance.high)
    return Limits(low, high, variance.level, "MLS (Ting et al.)", variance.rests_on)


def _mean_error(values: np.ndarray, codes: np.ndarray, mean: float) -> tuple[float, float]:
    """Standard error of the weighted mean from the group means, p − 1 df: p/(p−1)·Σ(n_i/N)²·(ȳ_i − m)²."""
    counts = np.bincount(codes)
    deviations = np.bincount(codes, weights=values - mean) / values.size
    p = counts.size
    return math.sqrt(p / (p - 1) * float(np.sum(deviations**2))), p - 1


def _crossed_mean_error(
    data: LevelData, factors: Mapping[str, np.ndarray], found: precision.Crossed
) -> tuple[float, float]:
    """Standard error from the components, on the df of the factor with the fewest labels (careful)."""
    variance = found.s_r**2 / data.n
    for effect in found.levels:
        codes = [factors[name] for name in effect.split(" × ")]
        flat = np.ravel_multi_index(codes, [int(code.max()) + 1 for code in codes])
        variance += found.components[effect] * float(np.sum((np.bincount(flat) / data.n) ** 2))
    return math.sqrt(variance), min(int(code.max()) for code in factors.values())
