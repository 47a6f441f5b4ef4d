"""`deviation` at each level, `curvature_deviation`, and the largest of them all."""

from __future__ import annotations

from validate.studies.linearity.calibration import Calibration, rows_of
from validate.studies.linearity.deviations import Bend, Deviation, distances_of, finite, intervals_of
from validate.studies.linearity.settings import FEWEST_LEVELS
from validate.vocabulary.finding import Finding, Sampling, Symbol, Working

SOURCE = "arithmetic; limits by t (project's own rule, after the two one-sided tests of equivalence)"
CURVE_SOURCE = "least squares; limits by t on the coefficient of x²"
DEVIATION_FORMULA = "d = 100·((ȳ − a)/b − x)/x; limits d ± t·u"
SHOWN_FORMULA = "d = 100·(x̄_found − x)/x; limits d ± t·u"
CURVE_FORMULA = "D_max = largest 100·|q(x) − a − b·x|/(|b|·x) over the range; q: quadratic by least squares"
LARGEST_FORMULA = "d_max = the largest of |d| over the levels and of D_max"
LARGEST_METHOD = "farthest end of the t limits of any level and of the curve"


def deviation_findings(calibration: Calibration, deviations: tuple[Deviation, ...]) -> tuple[Finding, ...]:
    """One for each declared level above 0."""
    by_level = {each.level: each for each in deviations}
    return tuple(_deviation(calibration, lv.level, by_level.get(lv.level)) for lv in calibration.levels if lv.x > 0)


def curvature_finding(calibration: Calibration, bend: Bend | str) -> Finding:
    """Largest distance between quadratic and line in percent of the level."""
    common = {"name": "curvature_deviation", "level": None, "unit": "%", "formula": CURVE_FORMULA,
              "source": CURVE_SOURCE, "rows": calibration.rows}  # fmt: skip
    if isinstance(bend, str):
        return Finding(value=None, reason=bend, **common)
    found, unit = bend.found, calibration.job.method.unit
    return Finding(
        value=abs(bend.percent),
        blocked=_exact(bend.is_exact),
        intervals=distances_of(calibration.job, [bend.limits], "distance from 0 of the t limits"),
        n=len(calibration.x),
        df=found.df,
        working=Working(
            expression="100 · √((({c0} + {c1} · {x} + {c2} · {x}^2 − {a} − {b} · {x}) / ({b} · {x}))^2)",
            symbols=(
                _symbol("c0", "c_0", "quadratic, constant", bend.c0, calibration.unit),
                _symbol("c1", "c_1", "quadratic, coefficient of x", bend.c1),
                _symbol("c2", "c_2", "quadratic, coefficient of x²", found.curvature),
                _symbol("a", "a", "intercept of the line", bend.intercept, calibration.unit),
                _symbol("b", "b", "slope of the line", bend.slope),
                _symbol("x", "x", "level at which they lie farthest apart", found.at, unit),
            ),
        ),
        notes=(f"farthest apart at {found.at:.4g} {unit}: {bend.percent:+.3g} %",),
        **common,
    )


def largest_finding(calibration: Calibration, deviations: tuple[Deviation, ...], bend: Bend | str) -> Finding:
    """The figure that a criterion on linearity bounds: levels and curve at once."""
    common = {"name": "largest_deviation", "level": None, "unit": "%", "formula": LARGEST_FORMULA,
              "source": SOURCE, "rows": calibration.rows}  # fmt: skip
    if not deviations:
        reason = calibration.why_no_fit or "no level above 0 was measured"
        return Finding(value=None, reason=reason, **common)
    parts = [each.limits for each in deviations]
    symbols = [_distance_symbol(f"d{i}", f"|d|({d.level})", d.percent, d.level) for i, d in enumerate(deviations)]
    if isinstance(bend, Bend):
        parts.append(bend.limits)
        symbols.append(_symbol("bend", "D_max", "largest distance between curve and line", abs(bend.percent), "%"))
    farthest = max(symbols, key=lambda symbol: symbol.value)
    return Finding(
        value=farthest.value,
        blocked=_blocks_of_largest(calibration, deviations, bend),
        intervals=distances_of(calibration.job, parts, LARGEST_METHOD),
        n=len(calibration.x),
        groups=len(deviations),
        working=Working(expression=_largest_of([symbol.name for symbol in symbols]), symbols=tuple(symbols)),
        notes=(f"largest: {farthest.meaning}",),
        **common,
    )


def _deviation(calibration: Calibration, level: str, found: Deviation | None) -> Finding:
    shows = calibration.shows_content
    common = {"name": "deviation", "level": level, "unit": "%", "source": SOURCE,
              "formula": SHOWN_FORMULA if shows else DEVIATION_FORMULA}  # fmt: skip
    if found is None:
        return Finding(value=None, reason=_why_missing(calibration, level), **common)
    expression = "100 · ({y} − {x}) / {x}" if shows else "100 · (({y} − {a}) / {b} − {x}) / {x}"
    return Finding(
        value=found.percent,
        blocked=found.blocked,
        intervals=intervals_of(calibration.job, found.limits, "%"),
        n=found.points.n,
        df=finite(found.df),
        groups=found.groups,
        working=Working(expression=expression, symbols=_symbols(calibration, found)),
        sampling=Sampling(kind="mean", se=found.u, df=finite(found.df)),
        rows=rows_of(calibration.job, found.points.index),
        **common,
    )


def _symbols(calibration: Calibration, found: Deviation) -> tuple[Symbol, ...]:
    fit, unit = calibration.fit, calibration.job.method.unit
    shows = calibration.shows_content
    symbols = [
        _symbol("y", "x̄_found" if shows else "ȳ", found.words, found.mean_reading, calibration.unit),
        _symbol("x", "x", "level", found.points.x, unit),
    ]
    if not shows:
        symbols.append(_symbol("a", "a", "intercept of the line", fit.intercept, calibration.unit))
        symbols.append(_symbol("b", "b", "slope of the line", fit.slope))
    return tuple(symbols)


def _why_missing(calibration: Calibration, level: str) -> str:
    points = next(each for each in calibration.levels if each.level == level)
    if not points.n:
        return "all readings at this level are censored" if points.censored else "no reading at this level"
    return calibration.why_no_fit


def _blocks_of_largest(
    calibration: Calibration, deviations: tuple[Deviation, ...], bend: Bend | str
) -> tuple[str, ...]:
    blocks = [f"at level {each.level} {reason}" for each in deviations for reason in each.blocked]
    missing = [lv.level for lv in calibration.levels if lv.x > 0 and not lv.n]
    if missing:
        blocks.append(f"no reading at {'level' if len(missing) == 1 else 'levels'} {', '.join(missing)}")
    if len(deviations) < FEWEST_LEVELS:
        blocks.append(f"{len(deviations)} levels above 0 were measured, at least {FEWEST_LEVELS} are needed")
    if isinstance(bend, str):
        blocks.append(f"the curve cannot be held against the line: {bend}")
    else:
        blocks += _exact(bend.is_exact)
    return tuple(dict.fromkeys(blocks))


def _exact(exact: bool) -> tuple[str, ...]:
    return ("the readings lie on a curve exactly: nothing tells their scatter",) if exact else ()


def _largest_of(names: list[str]) -> str:
    """`max({a}, max({b}, {c}))`."""
    *others, last = (f"{{{name}}}" for name in names)
    for name in reversed(others):
        last = f"max({name}, {last})"
    return last


def _distance_symbol(name: str, printed: str, percent: float, level: str) -> Symbol:
    return _symbol(name, printed, f"deviation at level {level}, without its sign", abs(percent), "%")


def _symbol(name: str, printed: str, meaning: str, value: float, unit: str = "") -> Symbol:
    return Symbol(name=name, printed=printed, meaning=meaning, value=float(value), unit=unit)
