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
RESIDUAL_FORMULA = "{k}·s_res/b"
INTERCEPT_FORMULA = "{k}·s_a/b"
FEWEST_CALIBRATIONS = 5
WIDE = 10.0
"""Standards that span more than this factor: the residual SD is that of the high ones. Common practice, no source."""
FAMILIES = (
    ("residual", "residual SD", "residual_sd", RESIDUAL_FORMULA),
    ("intercept", "SD of intercepts", "intercept_sd", INTERCEPT_FORMULA),
)


def standard_approaches(bench: Bench) -> tuple[Approach, ...]:
    """The minimum detectable content, then 3.3 and 10 times the residual SD and the SD of intercepts."""
    made = [_minimum(bench)]
    for sd, words, stem, formula in FAMILIES:
        for name, k in ((f"lod_{stem}", 3.3), (f"loq_{stem}", 10.0)):
            made.append(_multiple(bench, name, sd, words, k, formula.format(k=f"{k:g}")))
    return tuple(made)


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
        "{delta} · {s} · √(1 / {m} + 1 / {n} + {x_mean}^2 / {s_xx}) / {slope}",
        (
            symbol("delta", "δ", f"noncentrality at {found.df} degrees of freedom, 5 % and 5 %", found.delta),
            symbol("s", "s_res", spread.words, spread.s, bench.samples.unit),
            symbol("m", "m", "determinations averaged into a result", found.m),
            symbol("n", "N", "standards", fit.n),
            symbol("x_mean", "x̄", "mean content of the standards", fit.x_mean, bench.unit),
            symbol("s_xx", "S_xx", "sum of squares of the contents about their mean", fit.s_xx),
            _slope(bench, fit.slope),
        ),
        formula=MINIMUM_FORMULA,
        source=ISO_11843_2,
        proves=True,
        notes=_notes(bench),
    )
    net = found.minimum_detectable * fit.slope
    return Approach(finding, spread.words, BOTH_ERRORS, abs(net), fit.intercept + net)


def _multiple(bench: Bench, name: str, sd: str, words: str, k: float, formula: str) -> Approach:
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
