"""The line between the methods: slope, intercept, and the bias that it gives at a level."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from validate.stats.comparison import BiasAt, Deming, PassingBablok, bias_at, deming, passing_bablok
from validate.stats.intervals import Limits
from validate.studies.contract import ALPHA, StudyInput
from validate.studies.method_comparison.limit_workings import of_logarithms, of_t
from validate.studies.method_comparison.samples import Samples
from validate.studies.method_comparison.settings import DEMING
from validate.vocabulary.finding import Finding, Interval, LimitsWorking, Sampling, Symbol, Working

SOURCES = {
    "Deming": "Deming 1943, standard errors by the jackknife after Linnet 1990 (from memory)",
    "Passing-Bablok": "Passing and Bablok, J. Clin. Chem. Clin. Biochem. 21 (1983) 709-720 (from memory)",
}
LIMIT_WORDS = {"Deming": "limits by t on n − 2 degrees of freedom, jackknife", "Passing-Bablok": "limits by bootstrap"}
ROUNDING = 1e-12
"""Residuals below this share of the largest result are the rounding of doubles."""
LOGARITHMS = "line through logarithms: errors in proportion to the content"
FORMULAS = {
    ("slope", "Deming"): "b = (S_yy − λ·S_xx + √((S_yy − λ·S_xx)² + 4·λ·S_xy²))/(2·S_xy)",
    ("slope", "Passing-Bablok"): "b = middle of the slopes of all pairs, shifted by those below −1",
    ("intercept", "Deming"): "a = ȳ − b·x̄",
    ("intercept", "Passing-Bablok"): "a = median of y − b·x",
}


@dataclass(frozen=True)
class LineFound:
    """The declared line, or why there is none."""

    samples: Samples
    fit: Deming | PassingBablok | None
    reason: str | None = None

    @property
    def by(self) -> str:
        return self.samples.settings.line.by

    def at(self, confidence: float) -> Deming | PassingBablok:
        """The same line with limits at another confidence level."""
        return draw(self.samples, self.by, confidence)


def line_of(samples: Samples) -> LineFound:
    """The line that the protocol declares."""
    try:
        return LineFound(samples, draw(samples, samples.settings.line.by))
    except ValueError as error:
        return LineFound(samples, None, str(error))


def draw(samples: Samples, by: str, confidence: float = 0.95) -> Deming | PassingBablok:
    """A line of either kind; ValueError says why there is none."""
    if samples.proportional and not samples.are_positive:
        raise ValueError("a result is not above 0: it has no logarithm")
    x, y = samples.for_line()
    if by != DEMING:
        return passing_bablok(x, y, level=confidence)
    share_x, share_y = samples.averaging()
    ratio = (samples.settings.line.variance_ratio or 1.0) * share_y / share_x
    return deming(x, y, variance_ratio=ratio, level=confidence)


def intervals_of(
    job: StudyInput,
    limits: Callable[[float], Limits | tuple[float, float, str]],
    working: LimitsWorking | None = None,
) -> tuple[Interval, ...]:
    """95 % to be shown (with `working`), 1 − 2α for `met`, 1 − 2α/K for `not met`; an infinite end is open."""
    made = []
    for use, confidence in (("shown", 0.95), ("met", 1 - 2 * ALPHA), ("not_met", job.not_met_level)):
        found = limits(confidence)
        low, high, method = found if isinstance(found, tuple) else (found.low, found.high, found.method)
        made.append(
            Interval(use=use, level=confidence, low=_finite(low), high=_finite(high), method=method,
                     working=working if use == "shown" else None)  # type: ignore[arg-type]
        )  # fmt: skip
    return tuple(made)


def line_findings(line: LineFound, blocked: tuple[str, ...]) -> tuple[Finding, ...]:
    """Slope and intercept."""
    return tuple(_coefficient(line, name, blocked) for name in ("slope", "intercept"))


def _coefficient(line: LineFound, name: str, blocked: tuple[str, ...]) -> Finding:
    samples, fit = line.samples, line.fit
    unit = samples.unit if name == "intercept" and not samples.proportional else ""
    common = {"name": name, "level": None, "unit": unit, "formula": FORMULAS[name, line.by], "source": SOURCES[line.by],
              "n": samples.n, "rows": samples.rows}  # fmt: skip
    if fit is None:
        return Finding(value=None, reason=line.reason, **common)
    notes = [LOGARITHMS] if samples.proportional else []
    se = None
    if isinstance(fit, Deming):
        se = fit.se_slope if name == "slope" else fit.se_intercept
    else:
        notes += [f"limits by bootstrap: {fit.why_bootstrap}"] if fit.why_bootstrap else []
        notes += [_rank_words(fit)] if fit.ranks and name == "slope" else []
    return Finding(
        value=getattr(fit, name),
        blocked=(*blocked, *_without_scatter(line)),
        intervals=intervals_of(
            samples.job,
            lambda confidence: getattr(line.at(confidence), f"{name}_limits"),
            of_t(getattr(fit, f"{name}_limits"), unit),
        ),
        df=fit.df if isinstance(fit, Deming) else None,
        working=_working(line, fit, name, unit),
        sampling=None if se is None else Sampling(kind="mean", se=se, df=fit.df),  # type: ignore[union-attr]
        notes=tuple(notes),
        **common,
    )


def _rank_words(fit: PassingBablok) -> str:
    low, high = fit.ranks  # type: ignore[misc]
    return f"limits: the slopes of rank {low} and {high} of {fit.slopes}, in ascending order with those below −1 last"


def _working(line: LineFound, fit: Deming | PassingBablok, name: str, unit: str) -> Working:
    of = "of logarithms" if line.samples.proportional else ""
    if isinstance(fit, PassingBablok):
        if name == "slope":
            low, high = fit.middle
            symbols = (
                symbol("b_1", "b_1", "slope in the middle", low),
                symbol("b_2", "b_2", "the next, or the same", high),
            )
            return Working(expression="√({b_1} · {b_2})", symbols=symbols)
        return Working(
            expression="{m}", symbols=(symbol("m", "m", f"median of y − b·x {of}".strip(), fit.intercept, unit),)
        )
    if name == "slope":
        symbols = tuple(
            symbol(key, printed, f"{words} {of}".strip(), value)
            for key, printed, words, value in (
                ("s_yy", "S_yy", "sum of squares of this method", fit.s_yy),
                ("s_xx", "S_xx", "sum of squares of the reference", fit.s_xx),
                ("s_xy", "S_xy", "sum of products", fit.s_xy),
                ("l", "λ", "ratio of the variances of the means that are compared", fit.variance_ratio),
            )
        )
        under = "({s_yy} − {l} · {s_xx})^2 + 4 · {l} · {s_xy}^2"
        return Working(expression=f"({{s_yy}} − {{l}} · {{s_xx}} + √({under})) / (2 · {{s_xy}})", symbols=symbols)
    symbols = (
        symbol("mean_y", "ȳ", f"mean of this method {of}".strip(), fit.mean_y, unit),
        symbol("b", "b", "slope", fit.slope),
        symbol("mean_x", "x̄", f"mean of the reference {of}".strip(), fit.mean_x, unit),
    )
    return Working(expression="{mean_y} − {b} · {mean_x}", symbols=symbols)


def bias_findings(line: LineFound, blocked: tuple[str, ...]) -> tuple[Finding, ...]:
    """The bias at every decision level, in percent first and in the unit."""
    levels = line.samples.settings.levels
    return tuple(_bias(line, level, blocked, in_percent=in_percent) for in_percent in (True, False) for level in levels)


def _bias(line: LineFound, level: str, blocked: tuple[str, ...], *, in_percent: bool) -> Finding:
    samples, fit, c = line.samples, line.fit, float(level)
    log, unit = samples.proportional, "%" if in_percent else samples.unit
    form = "100·(e^a·x^(b − 1) − 1)" if log else "100·(a + (b − 1)·x)/x"
    if not in_percent:
        form = "x·(e^a·x^(b − 1) − 1)" if log else "a + (b − 1)·x"
    common = {"name": "method_bias_percent" if in_percent else "method_bias", "level": level, "unit": unit,
              "formula": f"{'B' if in_percent else 'B_c'} = {form}; {LIMIT_WORDS[line.by]}",
              "source": SOURCES[line.by], "n": samples.n, "rows": samples.rows}  # fmt: skip
    if fit is None:
        return Finding(value=None, reason=line.reason, **common)
    scale = 100.0 if in_percent else c
    found = _at(line, c, 0.95)
    outside = (f"extrapolated: the samples span {samples.x.min():.4g} to {samples.x.max():.4g} {samples.unit}",)

    def back(value: float) -> float:
        return scale * (math.expm1(min(value, 700.0)) if log else value / c)

    def limits(confidence: float) -> tuple[float, float, str]:
        at = _at(line, c, confidence).limits
        return back(at.low), back(at.high), at.method

    sampling = None
    if found.se is not None and found.df is not None:
        slope = math.exp(min(found.bias, 700.0)) if log else 1 / c
        sampling = Sampling(kind="mean", se=scale * slope * found.se, df=found.df)
    return Finding(
        value=back(found.bias),
        blocked=(*blocked, *_without_scatter(line), *(outside if found.extrapolated else ())),
        intervals=intervals_of(samples.job, limits, _limits_working(found, c, scale, unit, log=log)),
        df=found.df,
        working=_bias_working(fit, c, samples.unit, log=log, in_percent=in_percent),
        sampling=sampling,
        **common,
    )


def _limits_working(found: BiasAt, c: float, scale: float, unit: str, *, log: bool) -> LimitsWorking | None:
    """Of t limits, in the unit of the finding; of logarithms where the line goes through them."""
    if not log:
        return of_t(found.limits, unit, scale / c)
    whole = symbol("x", "x", "the whole: 100 for per cent, else the decision level", scale, unit)
    return of_logarithms(
        found.limits, "{x} · ((1 + {value} / {x}) / {f} − 1)", "{x} · ((1 + {value} / {x}) · {f} − 1)", whole
    )


def _without_scatter(line: LineFound) -> tuple[str, ...]:
    """Results that lie on the line but for the rounding of doubles: limits of no width prove nothing."""
    x, y = line.samples.for_line()
    residuals = y - line.fit.intercept - line.fit.slope * x  # type: ignore[union-attr]
    exact = float(np.max(np.abs(residuals))) <= ROUNDING * float(np.max(np.abs(y)))
    return ("all samples lie on one line exactly (s = 0)",) if exact else ()


def _at(line: LineFound, c: float, confidence: float) -> BiasAt:
    x, _ = line.samples.for_line()
    place = math.log(c) if line.samples.proportional else c
    return bias_at(line.fit, place, x=x, level=confidence)  # type: ignore[arg-type]


def _bias_working(fit: Deming | PassingBablok, c: float, unit: str, *, log: bool, in_percent: bool) -> Working:
    slope, level = symbol("b", "b", "slope", fit.slope), symbol("x", "x", "decision level", c, unit)
    if log:
        factor = symbol("f", "e^a", "ratio of the methods at content 1", float(np.exp(fit.intercept)))
        whole = "({f} · {x}^({b} − 1) − 1)"
        return Working(expression=f"{'100' if in_percent else '{x}'} · {whole}", symbols=(factor, slope, level))
    intercept = symbol("a", "a", "intercept", fit.intercept, unit)
    whole = "{a} + ({b} − 1) · {x}"
    return Working(expression=f"100 · ({whole}) / {{x}}" if in_percent else whole, symbols=(intercept, slope, level))


def symbol(name: str, printed: str, meaning: str, value: float, unit: str = "") -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=float(value), unit=unit)


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
