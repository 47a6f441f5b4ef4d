"""Recovery and bias of one level: the mean against what was added, certified or assigned."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, inf, isinf, sqrt

from validate.stats.intervals import Limits, Term, satterthwaite_df, t_limits
from validate.stats.trueness import SPIKE_TOO_SMALL, bias_test, recovery
from validate.studies.contract import StudyInput
from validate.studies.recovery.judgeable import blocks_of, intervals_of, is_below_resolution
from validate.studies.recovery.samples import Level
from validate.vocabulary.finding import Finding, Sampling, Symbol, Working

GUM = "error propagation and degrees of freedom, GUM (JCGM 100:2008) 5.1.2 and G.4.1"
RECOVERY_FORMULA = "R̄ = 100·(x̄ − x_native)/x_added; R̄ ± t·u"
BIAS_FORMULA = "b = x̄ − x_native − x_added; b ± t·u"
BIAS_PERCENT_FORMULA = "b_rel = R̄ − 100; b_rel ± t·u"


@dataclass(frozen=True)
class Estimate:
    """A mean-like figure with its standard uncertainty; None where one result tells nothing of its scatter."""

    value: float
    u: float | None
    df: float = inf

    def limits(self, use: str, confidence: float) -> Limits:
        return t_limits(self.value, self.u or 0.0, self.df, confidence)


def trueness_findings(job: StudyInput, level: Level) -> tuple[Finding, ...]:
    """`mean_recovery`, `bias` and `bias_percent` at one level."""
    unit = job.method.unit
    reason = _reason(level)
    if reason is not None:
        return (
            _missing(level, "mean_recovery", "%", RECOVERY_FORMULA, reason),
            _missing(level, "bias", unit, BIAS_FORMULA, reason),
            _missing(level, "bias_percent", "%", BIAS_PERCENT_FORMULA, reason),
        )
    percent, bias = mean_recovery(job, level), mean_bias(job, level)
    relative = Estimate(percent.value - 100, percent.u, percent.df)
    native = " − {native}" if level.native_value else ""
    share = f"100 · ({{mean_found}}{native}) / {{added}}" if native else "100 · {mean_found} / {added}"
    return (
        _finding(job, level, "mean_recovery", "%", percent, RECOVERY_FORMULA, share),
        _finding(job, level, "bias", unit, bias, BIAS_FORMULA, f"{{mean_found}}{native} − {{added}}"),
        _finding(job, level, "bias_percent", "%", relative, BIAS_PERCENT_FORMULA, f"{share} − 100"),
    )


def mean_recovery(job: StudyInput, level: Level) -> Estimate:
    """R̄ in percent; u from the means of days (where recorded), the native content and the added amount."""
    reference, native = level.reference, level.native
    if level.n < 2:
        return Estimate(100 * (level.mean_found - level.native_value) / reference.value, None)
    paired = level.paired_native is not None
    known = level.paired_native if paired else level.native_value
    found = recovery(
        level.found, reference.value, known, u_added=reference.u, groups=level.mean_groups, paired=paired, level=0.95
    )
    per_unit = 100 / reference.value
    terms = [
        Term(found.u_found**2, level.df_of_mean),
        Term(found.u_added**2, inf),
        *_shared_terms(job, level, per_unit),
    ]
    if native is not None:
        terms.append(Term((per_unit * native.u) ** 2, inf if native.df is None else native.df))
    return _combined(found.percent, terms)


def mean_bias(job: StudyInput, level: Level) -> Estimate:
    """Bias in the method's unit against reference plus native content."""
    reference, native = level.reference, level.native
    if level.n < 2:
        return Estimate(level.mean_found - level.native_value - reference.value, None)
    values = level.found if level.paired_native is None else level.found - level.paired_native
    target = reference.value + (native.value if native else 0.0)
    u_native = native.u if native else 0.0
    found = bias_test(values, target, u_reference=hypot(reference.u, u_native), groups=level.mean_groups, level=0.95)
    terms = [Term(found.u_mean**2, level.df_of_mean), Term(reference.u**2, inf), *_shared_terms(job, level, 1.0)]
    if native is not None:
        terms.append(Term(native.u**2, inf if native.df is None else native.df))
    return _combined(found.bias, terms)


def _shared_terms(job: StudyInput, level: Level, factor: float) -> list[Term]:
    """The step of the reading, where the results scatter too little to show it."""
    resolution = job.method.resolution
    if resolution is None or not is_below_resolution(level.sd, resolution):
        return []
    return [Term((factor * resolution) ** 2 / 12, inf)]


def _combined(value: float, terms: list[Term]) -> Estimate:
    u = sqrt(sum(term.value for term in terms))
    return Estimate(value, u, satterthwaite_df(terms) if u > 0 else terms[0].df)


def _reason(level: Level) -> str | None:
    if level.n == 0:
        return level.why_empty
    if level.reference is None:
        return "no reference value: nobody added, certified or assigned a content at this level"
    return None


def _missing(level: Level, name: str, unit: str, formula: str, reason: str) -> Finding:
    return Finding(
        name=name, level=level.level, value=None, unit=unit, reason=reason, formula=formula, source=GUM, rows=level.rows
    )


def _finding(
    job: StudyInput, level: Level, name: str, unit: str, estimate: Estimate, formula: str, expression: str
) -> Finding:
    knows_scatter = estimate.u is not None
    native_blocks = level.native.blocked if level.native else ()
    df = None if isinf(estimate.df) else estimate.df
    return Finding(
        name=name,
        level=level.level,
        value=estimate.value,
        unit=unit,
        blocked=(*blocks_of(job, level, level.sd if knows_scatter else None), *native_blocks),
        intervals=intervals_of(job, estimate.limits, unit) if knows_scatter else (),
        n=level.n,
        df=df,
        groups=level.group_count,
        formula=formula,
        source=GUM,
        working=Working(expression=expression, symbols=_symbols(job, level)),
        sampling=Sampling(kind="mean", se=estimate.u, df=df) if knows_scatter else None,
        rows=level.rows,
        notes=_notes(level),
    )


def _symbols(job: StudyInput, level: Level) -> tuple[Symbol, ...]:
    unit, reference = job.method.unit, level.reference
    symbols = [
        Symbol(name="mean_found", printed="x̄", meaning=level.words_for_mean, value=level.mean_found, unit=unit),
        Symbol(name="added", printed="x_added", meaning=reference.words, value=reference.value, unit=unit),
    ]
    if level.native_value:
        words = level.native.words if level.native else "mean of the native results that belong to the results"
        symbols.insert(1, Symbol(name="native", printed="x_native", meaning=words, value=level.native_value, unit=unit))
    return tuple(symbols)


def _notes(level: Level) -> tuple[str, ...]:
    notes = []
    if level.n == 1:
        notes.append("one result: no interval")
    elif level.mean_groups is None:
        notes.append("interval from single results; if several days are behind them it is too narrow")
    if level.native_value > level.reference.value:
        notes.append(SPIKE_TOO_SMALL)
    return tuple(notes)
