"""Slope, intercept and residual standard deviation of the line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import fsum, sqrt

from validate.stats.intervals import Limits, sd_limits, t_limits
from validate.stats.regression import Line
from validate.studies.linearity.calibration import Calibration
from validate.studies.linearity.deviations import intervals_of
from validate.studies.linearity.settings import NO_WEIGHTS
from validate.vocabulary.finding import Finding, Sampling, Symbol, Working

LEAST_SQUARES = "least squares, any text"
ISO_8466 = "ISO 8466-1:1990 (from memory)"
NAMES = ("slope", "intercept", "residual_sd", "method_sd", "method_cv")
FORMULAS = {
    "slope": "b = S_xy/S_xx; limits b ± t·s_b",
    "intercept": "a = ȳ − b·x̄; limits a ± t·s_a",
    "residual_sd": "s_y = √(Σw(y − a − b·x)²/df)",
    "method_sd": "s_x0 = s_y/|b|",
    "method_cv": "V_x0 = 100·s_x0/x̄",
}
WEIGHTED = "the scatter changes with the level by declaration: no one figure describes it"


def line_findings(calibration: Calibration) -> tuple[Finding, ...]:
    """The five figures of the line, or why there is none."""
    if calibration.fit is None:
        return tuple(_finding(calibration, name, None, reason=calibration.why_no_fit) for name in NAMES)
    return (*_coefficients(calibration, calibration.fit), *_spreads(calibration, calibration.fit))


def _coefficients(calibration: Calibration, fit: Line) -> Iterator[Finding]:
    s_xy = fsum(w * (x - fit.x_mean) * (y - fit.y_mean) for x, y, w in zip(fit.x, fit.y, fit.weights, strict=True))
    unit, weighted = calibration.unit, ", weighted" if fit.weighted else ""
    about = "about 0" if fit.through_origin else "about the means"
    per_content = _unit(calibration, "slope")
    yield _finding(
        calibration, "slope", fit.slope, df=fit.df,
        intervals=intervals_of(calibration.job, lambda c: t_limits(fit.slope, fit.se_slope, fit.df, c), per_content),
        working=Working(
            expression="{s_xy} / {s_xx}",
            symbols=(
                _symbol("s_xy", "S_xy", f"sum of products of level and reading {about}{weighted}", s_xy),
                _symbol("s_xx", "S_xx", f"sum of squares of the levels {about}{weighted}", fit.s_xx),
            ),
        ),
        sampling=Sampling(kind="mean", se=fit.se_slope, df=fit.df),
        notes=(f"standard error {fit.se_slope:.4g}",),
    )  # fmt: skip
    if fit.se_intercept is None:
        yield _finding(calibration, "intercept", None, reason="the line goes through the origin by declaration")
        return
    yield _finding(
        calibration, "intercept", fit.intercept, df=fit.df,
        intervals=intervals_of(calibration.job, lambda c: t_limits(fit.intercept, fit.se_intercept, fit.df, c), unit),
        working=Working(
            expression="{y_mean} − {b} · {x_mean}",
            symbols=(
                _symbol("y_mean", "ȳ", f"mean reading{weighted}", fit.y_mean, unit),
                _symbol("b", "b", "slope", fit.slope),
                _symbol("x_mean", "x̄", f"mean level{weighted}", fit.x_mean, calibration.job.method.unit),
            ),
        ),
        sampling=Sampling(kind="mean", se=fit.se_intercept, df=fit.df),
        notes=(f"standard error {fit.se_intercept:.4g}", _zero_within(calibration, fit)),
    )  # fmt: skip


def _zero_within(calibration: Calibration, fit: Line) -> str:
    """Whether the limits hold 0, and what the intercept amounts to in content: no test decides on it."""
    inside = fit.intercept_limits.low <= 0 <= fit.intercept_limits.high
    amount = f"{fit.intercept / fit.slope:.3g} {calibration.job.method.unit}"
    return f"the 95 % limits {'include' if inside else 'do not include'} 0; in units of content a/b = {amount}"


def _spreads(calibration: Calibration, fit: Line) -> Iterator[Finding]:
    s, n = fit.residual_sd, fit.n
    squares = fsum(w * r * r for w, r in zip(fit.weights, fit.residuals, strict=True))
    weighted = ", weights averaging 1" if fit.weighted else ""
    lost = 1 if fit.through_origin else 2
    yield _spread(
        calibration, fit, "residual_sd", 1.0, f"√({{ss}} / ({{n}} − {lost}))",
        (_symbol("ss", "SS", f"sum of squared residuals{weighted}", squares), _symbol("n", "n", "readings", n)),
    )  # fmt: skip
    if calibration.settings.weights != NO_WEIGHTS:
        yield from (_finding(calibration, name, None, reason=WEIGHTED) for name in ("method_sd", "method_cv"))
        return
    per_slope = (_symbol("s", "s_y", "residual standard deviation", s, calibration.unit),
                 _symbol("b", "|b|", "slope, without its sign", abs(fit.slope)))  # fmt: skip
    yield _spread(calibration, fit, "method_sd", 1 / abs(fit.slope), "{s} / {b}", per_slope)
    mean = fsum(fit.x) / n
    unit = calibration.job.method.unit
    yield _spread(
        calibration, fit, "method_cv", 100 / abs(fit.slope) / mean, "100 · {s} / ({b} · {x_mean})",
        (*per_slope, _symbol("x_mean", "x̄", "mean of all levels", mean, unit)),
    )  # fmt: skip


def _spread(
    calibration: Calibration, fit: Line, name: str, factor: float, expression: str, symbols: tuple[Symbol, ...]
) -> Finding:
    def limits(confidence: float) -> Limits:
        found = sd_limits(fit.residual_sd, fit.df, confidence)
        return replace(found, low=factor * found.low, high=factor * found.high)

    return _finding(
        calibration, name, factor * fit.residual_sd, df=fit.df,
        blocked=("the readings lie on the line exactly (s = 0)",) if fit.residual_sd == 0 else (),
        intervals=intervals_of(calibration.job, limits, _unit(calibration, name)),
        working=Working(expression=expression, symbols=symbols),
        sampling=Sampling(kind="scaled_chi", df=fit.df),
    )  # fmt: skip


def _finding(calibration: Calibration, name: str, value: float | None, **parts: object) -> Finding:
    of_line = name in ("slope", "intercept", "residual_sd")
    return Finding(
        name=name,
        level=None,
        value=value,
        unit=_unit(calibration, name),
        n=len(calibration.x) or None,
        formula=FORMULAS[name],
        source=LEAST_SQUARES if of_line else ISO_8466,
        rows=calibration.rows,
        **parts,  # type: ignore[arg-type]
    )


def _unit(calibration: Calibration, name: str) -> str:
    content = calibration.job.method.unit
    if name == "slope":
        return "" if calibration.shows_content else f"{calibration.unit or '1'} per {content}"
    return {"method_sd": content, "method_cv": "%"}.get(name, calibration.unit)


def _symbol(name: str, printed: str, meaning: str, value: float, unit: str = "") -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=float(value), unit=unit)


def correlation_words(fit: Line) -> str:
    """r and r² for small print; through the origin r² is another figure and says so."""
    if fit.r_squared is None:
        return ""
    if fit.through_origin:
        return f"r² about 0 (uncentred; not comparable with that of a line with intercept) = {fit.r_squared:.6f}"
    return f"r = {sqrt(max(0.0, fit.r_squared)) * (1 if fit.slope > 0 else -1):.4f}, r² = {fit.r_squared:.4f}"
