"""Findings that are a standard deviation times a factor known without error: RSD, limits r and R, HorRat."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from validate.stats import horwitz, precision
from validate.studies.collaborative_trial.context import ISO_5725_6, Context
from validate.studies.collaborative_trial.kinds import BY_NAME, HORRATS, MODEL_WORDS, RELATIVE
from validate.vocabulary.finding import Finding, Symbol, Working

_SOURCE = {
    "R": "AOAC Official Methods, Appendix F (2012), Annex D",
    "r-over-PRSD_R": "AOAC Official Methods, Appendix F (2012), Annex D",
    "r-over-0.66-PRSD_R": "Regulation (EC) No 401/2006, Annex II, 4.3.1",
    "r-over-half-PRSD_R": "single-laboratory tradition (from memory)",
}
_SHARE = {"r-over-0.66-PRSD_R": "0.66 · ", "r-over-half-PRSD_R": "0.5 · "}


def relative(context: Context, spread: Finding, mean: float) -> Finding:
    """100 · s / m, the mean taken as known."""
    name = RELATIVE[spread.name]
    if mean <= 0:
        return context.finding(
            name, None, reason="the general mean is not above zero", n=spread.n, formula=BY_NAME[name].title,
            source=spread.source,
        )  # fmt: skip
    m = Symbol(name="mean", printed="m", meaning="general mean", value=mean, unit=spread.unit)
    return _scaled(
        context, name, spread, 100 / mean, f"100 · {{{spread.name}}} / {{mean}}", (_symbol(spread), m),
        f"100 · {BY_NAME[spread.name].symbol} / m, the mean taken as known", spread.source,
    )  # fmt: skip


def limit(context: Context, name: str, spread: Finding) -> Finding:
    """r or R: two single results differ by more in about 5 % of cases."""
    symbol = BY_NAME[spread.name].symbol
    return _scaled(
        context, name, spread, precision.FACTOR_ISO, f"2.8 · {{{spread.name}}}", (_symbol(spread),),
        f"2.8 · {symbol} (unrounded factor 1.96 · √2 = {precision.FACTOR_EXACT:.4g})", ISO_5725_6,
    )  # fmt: skip


def horrat(context: Context, name: str, relatives: Mapping[str, Finding], mean: float) -> Finding:
    """Observed over predicted relative standard deviation at the observed general mean."""
    kind, model = HORRATS[name]
    rsd = relatives["rsd_reproducibility" if kind == "R" else "rsd_r"]
    fraction, reason = mass_fraction(context, mean)
    formula = f"{BY_NAME[name].title}; C is the general mean"
    if rsd.value is None or reason:
        return context.finding(name, None, reason=reason or rsd.reason, n=rsd.n, formula=formula, source=_SOURCE[kind])
    predicted = Symbol(
        name="predicted",
        printed="PRSD_R",
        meaning=f"{MODEL_WORDS[model]}, C = {fraction:.4g}",
        value=float(horwitz.predicted_rsd_percent(fraction, model=model)),
        unit="%",
    )
    factor = horwitz.horrat(1.0, fraction, model=model, kind=kind)
    return _scaled(
        context, name, rsd, factor, f"{{{rsd.name}}} / ({_SHARE.get(kind, '')}{{predicted}})",
        (_symbol(rsd), predicted), formula, _SOURCE[kind],
    )  # fmt: skip


def mass_fraction(context: Context, mean: float) -> tuple[float, str]:
    """Mass fraction for Horwitz, and why there is none."""
    method = context.job.method
    if method.method_defined:
        return 0.0, "the measurand is defined by the method: Horwitz does not apply"
    if method.mass_fraction_per_unit is None:
        return 0.0, f"{method.unit} is no mass fraction: Horwitz does not apply"
    fraction = mean * method.mass_fraction_per_unit
    return fraction, "" if 0 < fraction <= 1 else "the general mean is no mass fraction between 0 and 1"


def _symbol(finding: Finding) -> Symbol:
    kind = BY_NAME[finding.name]
    return Symbol(name=finding.name, printed=kind.symbol, meaning=kind.title, value=finding.value, unit=finding.unit)


def _scaled(
    context: Context, name: str, base: Finding, factor: float, expression: str, symbols: tuple[Symbol, ...],
    formula: str, source: str,
) -> Finding:  # fmt: skip
    intervals = tuple(
        replace(i, low=None if i.low is None else i.low * factor, high=None if i.high is None else i.high * factor)
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
        working=Working(expression=expression, symbols=symbols),
        sampling=base.sampling,
        notes=base.notes,
    )
