"""Findings that are a standard deviation times a known factor: RSD, limits, HorRat, the claim."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from validate.stats import horwitz, precision
from validate.studies.precision.context import ISO_5725_6, LevelContext, symbol_of
from validate.studies.precision.kinds import BY_NAME, HORRATS, MODEL_WORDS
from validate.studies.precision.model import Components
from validate.studies.precision.words import RELATIVE
from validate.vocabulary.finding import Finding, Symbol, Working
from validate.vocabulary.limits import derived_limits


def relative(context: LevelContext, spread: Finding, found: Components) -> Finding:
    name, mean = RELATIVE[spread.name], found.mean
    if mean <= 0:
        return context.finding(
            name,
            None,
            reason="the general mean is not above zero",
            n=spread.n,
            formula=BY_NAME[name].title,
            source=spread.source,
        )
    symbols = (
        symbol_of(spread),
        Symbol(name="mean", printed="m", meaning="general mean", value=mean, unit=spread.unit),
    )
    return scaled(
        context, name, spread, 100 / mean, f"100 · {{{spread.name}}} / {{mean}}", symbols,
        formula=f"100 · {BY_NAME[spread.name].symbol} / m, the mean taken as known", source=spread.source,
    )  # fmt: skip


def limit(context: LevelContext, name: str, spread: Finding) -> Finding:
    """r or R; the unrounded factor stands in the formula, its product in the table by level."""
    symbol = BY_NAME[spread.name].symbol
    return scaled(
        context,
        name,
        spread,
        precision.FACTOR_ISO,
        f"2.8 · {{{spread.name}}}",
        (symbol_of(spread),),
        formula=f"2.8 · {symbol} (unrounded factor 1.96 · √2 = {precision.FACTOR_EXACT:.4g})",
        source=ISO_5725_6,
    )


def to_claim(context: LevelContext, s_r: Finding) -> Finding:
    claimed = context.settings.claimed
    sigma = claimed.at(context.data.level)
    if sigma is None:
        return context.finding(
            "s_r_to_claim", None, reason="no standard deviation is claimed for this level", n=s_r.n,
            formula=BY_NAME["s_r_to_claim"].title, source=claimed.source,
        )  # fmt: skip
    symbols = (
        symbol_of(s_r),
        Symbol(
            name="claimed",
            printed="σ_r",
            meaning="claimed repeatability standard deviation",
            value=sigma,
            unit=s_r.unit,
        ),
    )
    return scaled(
        context, "s_r_to_claim", s_r, 1 / sigma, "{s_r} / {claimed}", symbols,
        formula="s_r / σ_r; χ² = ν · (s_r/σ_r)²",
        source=f"claim: {claimed.source}; comparison: ISO 5725-6 (from memory)",
    )  # fmt: skip


def horrat(context: LevelContext, name: str, relatives: Mapping[str, Finding], found: Components) -> Finding:
    kind, model = HORRATS[name]
    rsd = relatives["rsd_reproducibility" if kind == "R" else "rsd_r"]
    fraction, whose, reason = _mass_fraction(context, found)
    formula = f"{BY_NAME[name].title}; C is {whose}"
    if rsd.value is None or reason:
        return context.finding(
            name, None, reason=reason or rsd.reason, n=rsd.n, formula=formula, source=_HORRAT_SOURCE[kind]
        )
    predicted = horwitz.predicted_rsd_percent(fraction, model=model)
    ratio = horwitz.horrat(rsd.value, fraction, model=model, kind=kind)
    share = {"r-over-0.66-PRSD_R": "0.66 · ", "r-over-half-PRSD_R": "0.5 · "}.get(kind, "")
    symbols = (
        symbol_of(rsd),
        Symbol(
            name="predicted",
            printed="PRSD_R",
            meaning=f"{MODEL_WORDS[model]}, C = {_power_of_ten(fraction)}",
            value=predicted,
            unit="%",
        ),
    )
    factor = ratio / rsd.value if rsd.value else 0.0
    divisor = f"({share}{{predicted}})" if share else "{predicted}"
    return scaled(
        context, name, rsd, factor, f"{{{rsd.name}}} / {divisor}", symbols,
        formula=formula, source=_HORRAT_SOURCE[kind],
    )  # fmt: skip


def _power_of_ten(fraction: float) -> str:
    """A mass fraction as a person writes it: `3.438 · 10^−9`."""
    digits, exponent = f"{fraction:.3e}".split("e")
    power = str(int(exponent)).replace("-", "−")
    return f"{digits} · 10^{power}"


_HORRAT_SOURCE = {
    "R": "AOAC Official Methods, Appendix F (2012), Annex D",
    "r-over-PRSD_R": "AOAC Official Methods, Appendix F (2012), Annex D",
    "r-over-0.66-PRSD_R": "Regulation (EC) No 401/2006, Annex II, 4.3.1",
    "r-over-half-PRSD_R": "single-laboratory tradition (from memory)",
}


def _mass_fraction(context: LevelContext, found: Components) -> tuple[float, str, str | None]:
    """Mass fraction for Horwitz, whose it is, and why there is none."""
    level, method = context.data.level, context.job.method
    content, whose = (found.mean, "the general mean") if level is None else (float(level), "the declared level")
    if method.method_defined:
        return 0.0, whose, "the measurand is defined by the method: Horwitz does not apply"
    if method.mass_fraction_per_unit is None:
        return 0.0, whose, f"{method.unit} is no mass fraction: Horwitz does not apply"
    fraction = content * method.mass_fraction_per_unit
    return fraction, whose, None if 0 < fraction <= 1 else f"{whose} is no mass fraction between 0 and 1"


def scaled(
    context: LevelContext, name: str, base: Finding, factor: float, expression: str, symbols: tuple[Symbol, ...],
    *, formula: str, source: str,
) -> Finding:  # fmt: skip
    """A finding that is `base` times a factor known without error."""
    working = Working(expression=expression, symbols=symbols)
    of_limits = derived_limits(working, symbol_of(base), base.interval("shown"))
    intervals = tuple(
        replace(
            i,
            low=None if i.low is None else i.low * factor,
            high=None if i.high is None else i.high * factor,
            working=of_limits if i.use == "shown" else None,
        )
        for i in base.intervals
    )
    return context.finding(
        name,
        base.value * factor,
        blocked=base.blocked,
        intervals=intervals,
        n=base.n,
        df=base.df,
        groups=base.groups,
        formula=formula,
        source=source,
        working=working,
        sampling=base.sampling,
        notes=base.notes,
    )
