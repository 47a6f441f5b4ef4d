"""Limits from calibration data: minimum detectable content, and multiples of a named SD over the slope."""

from __future__ import annotations

from validate.stats.detection import SlopeLimits, from_calibration, minimum_detectable
from validate.studies.detection.approaches import (
    BOTH_ERRORS,
    ISO_11843_2,
    NONE_STATED,
    SHORTCUT,
    Approach,
    Bench,
    Spread,
    limit_from,
    missing,
    symbol,
)
from validate.vocabulary.finding import Finding, Symbol

MINIMUM_FORMULA = "x_D = δ·s_res·√(1/m + 1/N + x̄²/S_xx)/b"
CRITICAL_FORMULA = "x_C = t·s_res·√(1/m + 1/N + x̄²/S_xx)/b"
ROOT = "√(1 / {m} + 1 / {n} + {x_mean}^2 / {s_xx}) / {slope}"
RESIDUAL_FORMULA = "{k}·s_res/b"
INTERCEPT_FORMULA = "{k}·s_a/b"
FEWEST_CALIBRATIONS = 5
WIDE = 10.0
"""Standards that span more than this factor: the residual SD is that of the high ones. Common practice, no source."""
MULTIPLES = (
    ("lod_3_residual_sd", "residual", 3.0, RESIDUAL_FORMULA),
    ("lod_residual_sd", "residual", 3.3, RESIDUAL_FORMULA),
    ("loq_residual_sd", "residual", 10.0, RESIDUAL_FORMULA),
    ("lod_intercept_sd", "intercept", 3.3, INTERCEPT_FORMULA),
    ("loq_intercept_sd", "intercept", 10.0, INTERCEPT_FORMULA),
)


def standard_approaches(bench: Bench) -> tuple[Approach, ...]:
    """The minimum detectable content, then multiples of the residual SD and of the SD of intercepts."""
    made = [_minimum(bench)]
    made += [_multiple(bench, name, sd, k, formula.format(k=f"{k:g}")) for name, sd, k, formula in MULTIPLES]
    return tuple(made)


def critical_of_line(bench: Bench, missed: Finding) -> tuple[Finding, float | None]:
    """The critical value of the line where neither blanks nor low levels give one; `missed` where it gives none."""
    fit = bench.samples.standards.pooled
    try:
        found = minimum_detectable(fit, m=bench.settings.averaged) if fit is not None else None
    except ValueError:
        found = None
    if found is None or fit.residual_sd == 0:
        return missed, None
    spread = _residual_spread(bench)
    t = symbol("t", "t", f"one-sided 95 % quantile at {found.df} degrees of freedom", found.t)
    finding = limit_from(
        bench,
        "critical_value",
        spread,
        found.critical_concentration / spread.s,
        "{t} · {s} · " + ROOT,
        (t, *_root_symbols(bench, spread, found.m)),
        formula=CRITICAL_FORMULA,
        source=ISO_11843_2,
        proves=False,
        notes=("from the calibration: no blanks or low-level samples give one",),
    )
    return finding, found.critical_signal


def _minimum(bench: Bench) -> Approach:
    standards = bench.samples.standards
    fit = standards.pooled
    if fit is None:
        return Approach(
            _none(bench, "lod_calibration", standards.reason, MINIMUM_FORMULA, ISO_11843_2), "", BOTH_ERRORS
        )
    try:
        found = minimum_detectable(fit, m=bench.settings.averaged)
    except ValueError as error:
        return Approach(_none(bench, "lod_calibration", str(error), MINIMUM_FORMULA, ISO_11843_2), "", BOTH_ERRORS)
    if fit.residual_sd == 0:
        reason = "the standards lie on the line exactly: they tell nothing of the scatter"
        return Approach(_none(bench, "lod_calibration", reason, MINIMUM_FORMULA, ISO_11843_2), "", BOTH_ERRORS)
    spread = _residual_spread(bench)
    finding = limit_from(
        bench,
        "lod_calibration",
        spread,
        found.minimum_detectable / spread.s,
        "{delta} · {s} · " + ROOT,
        (
            symbol("delta", "δ", f"noncentrality at {found.df} degrees of freedom, 5 % and 5 %", found.delta),
            *_root_symbols(bench, spread, found.m),
        ),
        formula=MINIMUM_FORMULA,
        source=ISO_11843_2,
        proves=True,
        notes=_notes(bench),
    )
    net = found.minimum_detectable * fit.slope
    return Approach(finding, spread.words, BOTH_ERRORS, abs(net), fit.intercept + net)


def _multiple(bench: Bench, name: str, sd: str, k: float, formula: str) -> Approach:
    standards = bench.samples.standards
    if standards.pooled is None:
        return Approach(_none(bench, name, standards.reason, formula, SHORTCUT), "", NONE_STATED)
    intercepts = [fit.intercept for fit in standards.each]
    if sd == "intercept" and len(intercepts) < FEWEST_CALIBRATIONS:
        number = len(intercepts)
        reason = f"{number} separate calibration{'' if number == 1 else 's'} found, {FEWEST_CALIBRATIONS} needed"
        return Approach(_none(bench, name, reason, formula, SHORTCUT), "", NONE_STATED)
    try:
        found = from_calibration(
            standards.pooled,
            sd=sd,
            responses=intercepts if sd == "intercept" else None,
            k_detect=k,  # type: ignore[arg-type]
        )
    except ValueError as error:
        return Approach(_none(bench, name, str(error), formula, SHORTCUT), "", NONE_STATED)
    if found.sd == 0:
        reason = "the standards lie on the line exactly: they tell nothing of the scatter"
        return Approach(_none(bench, name, reason, formula, SHORTCUT), "", NONE_STATED)
    spread = _residual_spread(bench) if sd == "residual" else _intercept_spread(bench, found)
    finding = limit_from(
        bench,
        name,
        spread,
        k / abs(found.slope),
        f"{k:g} · {{s}} / {{slope}}",
        (
            symbol("s", "s_res" if sd == "residual" else "s_a", spread.words, spread.s, bench.samples.unit),
            _slope(bench, found.slope),
        ),
        formula=formula,
        source=SHORTCUT,
        proves=False,
        notes=("a shortcut: no error probabilities are attached to it", *(_notes(bench) if sd == "residual" else ())),
    )
    net = k * found.sd
    return Approach(finding, spread.words, NONE_STATED, net, standards.pooled.intercept + net * _sign(found.slope))


def _root_symbols(bench: Bench, spread: Spread, m: int) -> tuple[Symbol, ...]:
    fit = bench.samples.standards.pooled
    return (
        symbol("s", "s_res", spread.words, spread.s, bench.samples.unit),
        symbol("m", "m", "determinations averaged into a result", m),
        symbol("n", "N", "standards", fit.n),
        symbol("x_mean", "x̄", "mean content of the standards", fit.x_mean, bench.unit),
        symbol("s_xx", "S_xx", "sum of squares of the contents about their mean", fit.s_xx),
        _slope(bench, fit.slope),
    )


def _residual_spread(bench: Bench) -> Spread:
    standards = bench.samples.standards
    fit = standards.pooled
    of = "one calibration" if len(standards.each) < 2 else f"{len(standards.each)} calibrations taken together"
    words = f"residual SD of {fit.n} standards, {of}"
    return Spread(fit.residual_sd, fit.df, words, fit.n, None, standards.rows, ())


def _intercept_spread(bench: Bench, found: SlopeLimits) -> Spread:
    number = len(bench.samples.standards.each)
    words = f"SD of the intercepts of {number} separate calibrations"
    return Spread(found.sd, found.df, words, number, None, bench.samples.standards.rows, ())


def _notes(bench: Bench) -> tuple[str, ...]:
    contents = [x for x in bench.samples.standards.pooled.x if x > 0]
    if contents and max(contents) > WIDE * min(contents):
        ratio = max(contents) / min(contents)
        return (
            f"the standards span a factor of {ratio:.3g}: where scatter grows with the content, "
            "their residual SD is that of the high ones and the limit too high",
        )
    return ()


def _slope(bench: Bench, slope: float) -> Symbol:
    unit = f"{bench.samples.unit} per {bench.unit}" if bench.samples.unit != bench.unit else ""
    return symbol("slope", "b", "slope of the standards", abs(slope), unit)


def _sign(slope: float) -> float:
    return -1.0 if slope < 0 else 1.0


def _none(bench: Bench, name: str, reason: str | None, formula: str, source: str) -> Finding:
    return missing(
        name, reason or "no standards", bench, formula=formula, source=source, rows=bench.samples.standards.rows
    )
