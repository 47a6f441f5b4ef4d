"""Findings on spread: s_r, RSD_r, s_I, RSD_I and the HorRat forms of one level."""

from __future__ import annotations

from dataclasses import replace

from validate.stats.horwitz import DIVISOR, horrat, predicted_rsd_percent
from validate.studies.contract import Method, StudyInput
from validate.studies.recovery.findings import FINDINGS, HORRAT_FORMS
from validate.studies.recovery.judgeable import blocks_of, intervals_of
from validate.studies.recovery.samples import Level
from validate.studies.recovery.settings import HORRATS, RecoverySettings, wanted_horrats
from validate.studies.recovery.spread import Spread, intermediate, repeatability
from validate.vocabulary.finding import Finding, Symbol, Working
from validate.vocabulary.limits import derived_limits

S_R_FORMULA = "s_r = √(SS_w/(N − p))"
S_I_FORMULA = "s_I = √(s_r² + s_between²), s_between² = max(0, (MS_b − MS_w)/n₀)"
HORWITZ_SOURCE = {
    "horwitz": "Regulation (EC) No 401/2006, Annex II 4.3.1",
    "horwitz-aoac": "AOAC Official Methods, Appendix F (2012), Annex D",
    "thompson": "M. Thompson, Analyst 125 (2000) 385",
}
SINGLE_LABORATORY = "; division by half of PRSD_R is a tradition of single laboratories (from memory)"


def precision_findings(job: StudyInput, level: Level) -> tuple[Finding, ...]:
    """Spread of what was found, never of the recoveries: those hide the native content."""
    s_r, s_i = repeatability(job, level), intermediate(job, level)
    sd_r = _standard_deviation(job, level, "s_r", s_r, S_R_FORMULA)
    sd_i = _standard_deviation(job, level, "s_intermediate", s_i, S_I_FORMULA)
    rsd_r = _relative(job, level, "rsd_r", s_r, sd_r, "RSD_r = 100·s_r/x̄")
    return (
        sd_r,
        rsd_r,
        sd_i,
        _relative(job, level, "rsd_intermediate", s_i, sd_i, "RSD_I = 100·s_I/x̄"),
        *(_horrat(job, level, name, s_r, rsd_r) for name in wanted_horrats(_settings(job))),
    )


def why_no_horrat(method: Method) -> str | None:
    """The reason why no HorRat applies to the method at all."""
    if method.method_defined:
        return "the measurand is defined by the method: the Horwitz relation does not apply"
    if method.mass_fraction_per_unit is None:
        return f"{method.unit} is no mass fraction"
    return None


def mass_fraction_at(job: StudyInput, level: Level) -> tuple[float, str]:
    """C of a level in kg/kg and in words: reference content with the native one, else the observed mean."""
    content, words = level.content, "reference content"
    if content is None:
        content, words = level.mean_found, "observed mean"
    elif level.native_value:
        words = "sum of reference and native content"
    return content * job.method.mass_fraction_per_unit, words


def _standard_deviation(job: StudyInput, level: Level, name: str, spread: Spread, formula: str) -> Finding:
    return _finding(job, level, name, job.method.unit, spread, 1.0, formula, (spread.expression, spread.symbols))


def _relative(job: StudyInput, level: Level, name: str, spread: Spread, sd: Finding, formula: str) -> Finding:
    if spread.value is not None and spread.mean <= 0:
        spread = Spread(None, "the mean is not above zero: no relative standard deviation")
    factor = 100 / spread.mean if spread.value is not None else 1.0
    return _finding(
        job, level, name, "%", spread, factor, formula, (f"100 · {{{sd.name}}} / {{mean}}", (_mean(job, spread),)), sd
    )


def _horrat(job: StudyInput, level: Level, name: str, spread: Spread, rsd_r: Finding) -> Finding:
    kind, model = HORRATS[name]
    formula = f"HorRat = {HORRAT_FORMS[kind]}"
    source = HORWITZ_SOURCE[model] + (SINGLE_LABORATORY if kind == "r-over-half-PRSD_R" else "")
    reason = why_no_horrat(job.method)
    if reason is None and spread.value is not None:
        if spread.mean <= 0:
            reason = "the mean is not above zero: no relative standard deviation"
        elif not 0 < mass_fraction_at(job, level)[0] <= 1:
            reason = "the content at this level is no mass fraction between 0 and 1"
    if reason is not None or spread.value is None:
        nothing = Spread(None, reason or spread.reason)
        return _finding(job, level, name, "", nothing, 1.0, formula, ("", ()), source=source)
    fraction, words = mass_fraction_at(job, level)
    factor = horrat(100, fraction, model=model, kind=kind) / spread.mean
    predicted = predicted_rsd_percent(fraction, model=model)
    symbols = (
        Symbol(name="prsd", printed="PRSD_R", meaning=f"predicted RSD_R at the {words}", value=predicted, unit="%"),
    )
    divisor = "{prsd}" if DIVISOR[kind] == 1 else f"({DIVISOR[kind]:g} · {{prsd}})"
    working = (f"{{rsd_r}} / {divisor}", symbols)
    return _finding(job, level, name, "", spread, factor, formula, working, rsd_r, source)


def _finding(
    job: StudyInput,
    level: Level,
    name: str,
    unit: str,
    spread: Spread,
    factor: float,
    formula: str,
    working: tuple[str, tuple[Symbol, ...]],
    base: Finding | None = None,
    source: str = "",
) -> Finding:
    """The spread times a fixed factor, as a finding with its intervals; `working` puts in the finding `base`."""
    sources = "; ".join(filter(None, (spread.source, source)))
    if spread.value is None or spread.limits is None:
        reason = level.why_empty if level.n == 0 else spread.reason
        return Finding(
            name=name,
            level=level.level,
            value=None,
            unit=unit,
            reason=reason,
            formula=formula,
            source=sources,
            rows=level.rows,
        )
    arithmetic = Working(expression=working[0], symbols=(*([_as_symbol(base)] if base else []), *working[1]))
    intervals = intervals_of(job, spread.limits, unit, factor, spread.parts)
    if base:
        shown = replace(intervals[0], working=derived_limits(arithmetic, _as_symbol(base), base.interval("shown")))
        intervals = (shown, *intervals[1:])
    return Finding(
        name=name,
        level=level.level,
        value=factor * spread.value,
        unit=unit,
        blocked=blocks_of(job, level, spread.value),
        intervals=intervals,
        n=spread.n,
        df=spread.df,
        groups=spread.groups,
        formula=f"{formula}; {spread.words}",
        source=sources,
        working=arithmetic,
        sampling=spread.sampling,
        rows=level.rows,
        notes=spread.notes,
    )


def _as_symbol(finding: Finding) -> Symbol:
    kind = next(kind for kind in FINDINGS if kind.name == finding.name)
    return Symbol(
        name=finding.name, printed=kind.symbol, meaning=kind.title.lower(), value=finding.value, unit=finding.unit
    )


def _mean(job: StudyInput, spread: Spread) -> Symbol:
    return Symbol(
        name="mean", printed="x̄", meaning="mean of the results found", value=spread.mean, unit=job.method.unit
    )


def _settings(job: StudyInput) -> RecoverySettings:
    return job.settings  # type: ignore[return-value]
