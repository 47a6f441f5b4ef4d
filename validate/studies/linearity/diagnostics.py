"""Tests for information: lack of fit, fitting test, homogeneity of variance. None of them decides."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from validate.stats.outliers import cochran
from validate.stats.regression import lack_of_fit, mandel_fitting_test
from validate.stats.variances import FEWEST_PER_GROUP, brown_forsythe, spread_by_level
from validate.studies.linearity.calibration import Calibration, LevelPoints
from validate.studies.linearity.deviations import Bend
from validate.vocabulary.evaluation import ResultTable, TableColumn

SIGNIFICANT = 0.01
"""Error rate of every test here; the fitting test declares 99 %."""
NOTE = (
    "For information: none of these tests decides. With many readings a harmless bend is significant, "
    "with few a bad one is not; a large p proves nothing."
)


@dataclass(frozen=True)
class Diagnostic:
    """One test; `f` and the rest are None with the `reason` where it cannot be made."""

    name: str
    question: str
    symbol: str
    value: float | None = None
    critical: float | None = None
    df: str = ""
    p: float | None = None
    significant: bool = False
    reason: str = ""

    @property
    def outcome(self) -> str:
        if self.value is None:
            return f"not made: {self.reason}"
        return "significant at 99 %" if self.significant else "not significant at 99 %"


def diagnostics_of(calibration: Calibration, bend: Bend | str) -> tuple[Diagnostic, ...]:
    """The tests that the data allow, and why others were not made."""
    if calibration.fit is None:
        return ()
    return (
        _lack_of_fit(calibration),
        _fitting_test(calibration, bend),
        _tried(_spread, "homogeneity of variance", "do all levels scatter alike?", calibration),
    )


def diagnostics_table(found: tuple[Diagnostic, ...]) -> ResultTable:
    columns = (
        TableColumn(title="test", kind="text"),
        TableColumn(title="asks", kind="text"),
        TableColumn(title="statistic", kind="text"),
        TableColumn(title="value"),
        TableColumn(title="critical, 99 %"),
        TableColumn(title="df", kind="text"),
        TableColumn(title="p"),
        TableColumn(title="outcome", kind="text"),
    )
    rows = tuple((d.name, d.question, d.symbol, d.value, d.critical, d.df, d.p, d.outcome) for d in found)
    return ResultTable(name="diagnostics", title="Tests for information", columns=columns, rows=rows, note=NOTE)


def _tried(make: Callable[[Calibration], Diagnostic], name: str, question: str, calibration: Calibration) -> Diagnostic:
    try:
        return make(calibration)
    except ValueError as error:
        return Diagnostic(name, question, "", reason=str(error))


def _lack_of_fit(calibration: Calibration) -> Diagnostic:
    name, question = "lack of fit", "do the level means scatter about the line more than replicates explain?"
    if calibration.settings.through_origin:
        return Diagnostic(name, question, "F", reason="it is defined for a line with intercept")

    def make(calibration: Calibration) -> Diagnostic:
        test = lack_of_fit(calibration.x, calibration.y, calibration.weights)
        df = f"{test.df_lack}, {test.df_pure}"
        if test.f is None or test.p_value is None:
            return Diagnostic(name, question, "F", df=df, reason=test.reason or "")
        return Diagnostic(name, question, "F", test.f, None, df, test.p_value, test.p_value < SIGNIFICANT)

    return _tried(make, name, question, calibration)


def _fitting_test(calibration: Calibration, bend: Bend | str) -> Diagnostic:
    """Mandel's test where no weights are declared; its weighted counterpart otherwise."""
    question = "does a quadratic fit better than the line?"
    if calibration.weights is None:
        return _tried(_mandel, "fitting test (Mandel)", question, calibration)
    name = "quadratic against line, weighted"
    if isinstance(bend, str):
        return Diagnostic(name, question, "F", reason=bend)
    found, df = bend.found, f"1, {bend.found.df}"
    if found.f is None or found.p_value is None:
        return Diagnostic(name, question, "F", df=df, reason=found.reason or "")
    return Diagnostic(name, question, "F", found.f, None, df, found.p_value, found.p_value < SIGNIFICANT)


def _mandel(calibration: Calibration) -> Diagnostic:
    test = mandel_fitting_test(calibration.x, calibration.y)
    name, question, df = "fitting test (Mandel)", "does a quadratic fit better than the line?", f"1, {test.df}"
    if test.f is None:
        return Diagnostic(name, question, "F", critical=test.critical_99, df=df, reason=test.reason or "")
    return Diagnostic(name, question, "F", test.f, test.critical_99, df, test.p_value, test.f > test.critical_99)


def _spread(calibration: Calibration) -> Diagnostic:
    """By results per level: 2 or 3, Cochran (equal numbers) or lg s on lg level; 4 and more, Levene on medians.

    With weights the readings are scaled by their root first: the question is then whether
    the declared weights describe the scatter.
    """
    levels, question = calibration.measured, "do all levels scatter alike?"
    if calibration.weights is not None:
        question = "do the declared weights describe the scatter?"
    sizes = [level.n for level in levels]
    if min(sizes) >= FEWEST_PER_GROUP:
        values = np.concatenate([_scaled(calibration, level) for level in levels])
        test = brown_forsythe(values, np.repeat(np.arange(len(levels)), sizes))
        df = f"{test.df1}, {test.df2}"
        return Diagnostic("Levene on medians", question, "F", test.f, None, df, test.p_value,
                          test.p_value < SIGNIFICANT)  # fmt: skip
    repeated = [level for level in levels if level.n > 1]
    if len(repeated) < 3:
        raise ValueError("fewer than three levels were measured more than once")
    if len(set(sizes)) == 1:
        return _cochran(calibration, repeated, question)
    return _by_level(calibration, repeated, question)


def _cochran(calibration: Calibration, levels: list[LevelPoints], question: str) -> Diagnostic:
    flag = cochran([float(np.var(_scaled(calibration, level), ddof=1)) for level in levels], levels[0].n)
    name = f"Cochran (largest variance: level {levels[flag.index].level})"
    df = f"{levels[0].n - 1}, {len(levels)} levels"
    return Diagnostic(name, question, "C", flag.statistic, flag.critical_1, df, flag.p_bound,
                      flag.statistic > flag.critical_1)  # fmt: skip


def _by_level(calibration: Calibration, levels: list[LevelPoints], question: str) -> Diagnostic:
    usable = [level for level in levels if level.x > 0]
    sds = [float(np.std(_scaled(calibration, level), ddof=1)) for level in usable]
    found = spread_by_level([level.x for level in usable], sds)
    if found.p_value is None:
        raise ValueError(found.reason or "")
    return Diagnostic("slope of lg s on lg level", question, "t", found.t, None, str(found.df), found.p_value,
                      found.p_value < SIGNIFICANT)  # fmt: skip


def _scaled(calibration: Calibration, level: LevelPoints) -> np.ndarray:
    weights = calibration.weights_at(np.array([level.x]))
    return level.y if weights is None else level.y * float(np.sqrt(weights[0]))
