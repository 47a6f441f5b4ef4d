"""Results that stand out: flagged, never removed; the figures stand with and without them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from validate.stats.outliers import Flag, cochran, grubbs
from validate.studies.precision.context import LevelContext
from validate.studies.precision.designs import components
from validate.studies.precision.groups import cell_codes
from validate.studies.precision.words import plural, shown
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import ResultTable, TableColumn

FEWEST_GROUPS = 3


@dataclass(frozen=True)
class OutlierTest:
    """One test at one level; `rows` are those of the cell or group that stands out most."""

    level: str | None
    name: str
    statistic: float | None
    critical_5: float | None
    critical_1: float | None
    p_bound: float | None
    mask: np.ndarray | None
    rows: str
    reason: str = ""

    @property
    def is_flagged(self) -> bool:
        """Whether the statistic exceeds its 5 % value."""
        return self.statistic is not None and self.statistic > self.critical_5

    @property
    def outcome(self) -> str:
        """In the words of ISO 5725-2: outlier above the 1 % value, straggler above the 5 % value."""
        if self.statistic is None:
            return self.reason
        if self.statistic > self.critical_1:
            return "outlier (1 %)"
        return "straggler (5 %)" if self.is_flagged else "nothing stands out"


def outlier_tests(context: LevelContext) -> tuple[OutlierTest, ...]:
    """Cochran on the variances of the innermost cells, Grubbs on the means of the outer groups."""
    return _cochran(context), _grubbs(context)


def _cochran(context: LevelContext) -> OutlierTest:
    data, design = context.data, context.settings.design
    name = "Cochran, variances within " + " and ".join(plural(factor.called) for factor in design.factors)
    cells = cell_codes(data, tuple(factor.column for factor in design.factors))
    counts = np.bincount(cells)
    repeated = counts[counts > 1]
    if repeated.size < FEWEST_GROUPS:
        return _untested(context, name, f"fewer than {FEWEST_GROUPS} cells with repeated results")
    usual = int(np.bincount(repeated).argmax())
    chosen = np.flatnonzero(counts > 1)
    deviations = data.values - (np.bincount(cells, weights=data.values) / counts)[cells]
    variances = np.bincount(cells, weights=deviations**2)[chosen] / (counts[chosen] - 1)
    if not variances.any():
        return _untested(context, name, "all variances are 0")
    note = "" if (repeated == usual).all() else f", n = {usual} (the most frequent)"
    return _tested(context, name + note, cochran(variances, usual), lambda i: cells == chosen[i])


def _grubbs(context: LevelContext) -> OutlierTest:
    data, outer = context.data, context.settings.design.outer
    name = f"Grubbs, means of {plural(outer.called)}, two-sided"
    codes = data.codes[outer.column]
    means = np.bincount(codes, weights=data.values) / np.bincount(codes)
    if means.size < FEWEST_GROUPS:
        return _untested(context, name, f"fewer than {FEWEST_GROUPS} {plural(outer.called)}")
    if np.ptp(means) == 0:
        return _untested(context, name, "all means are equal")
    return _tested(context, name, grubbs(means, sides=2), lambda i: codes == i)


def _tested(context: LevelContext, name: str, flag: Flag, of: Callable[[int], np.ndarray]) -> OutlierTest:
    mask = of(flag.index)
    return OutlierTest(
        level=context.data.level,
        name=name,
        statistic=flag.statistic,
        critical_5=flag.critical_5,
        critical_1=flag.critical_1,
        p_bound=flag.p_bound,
        mask=mask,
        rows=row_ranges(context.data.rows[mask]),
    )


def _untested(context: LevelContext, name: str, reason: str) -> OutlierTest:
    return OutlierTest(context.data.level, name, None, None, None, None, None, "", f"not tested: {reason}")


def outlier_table(tests: Iterable[OutlierTest]) -> ResultTable:
    """Every test that was made or could not be made."""
    return ResultTable(
        name="outliers",
        title="Tests for cells and groups that stand out",
        columns=(
            _text("level"),
            _text("test"),
            TableColumn(title="statistic"),
            TableColumn(title="critical, 5 %"),
            TableColumn(title="critical, 1 %"),
            TableColumn(title="p at most"),
            _text("outcome"),
            _text("rows"),
        ),
        rows=tuple(
            (shown(t.level), t.name, t.statistic, t.critical_5, t.critical_1, t.p_bound, t.outcome, t.rows)
            for t in tests
        ),
        note="A flag asks for a reason; nothing was removed. Tests of ISO 5725-2:1994, 7.3 (from memory).",
    )


def with_and_without(contexts: Iterable[LevelContext], tests: Iterable[OutlierTest]) -> ResultTable | None:
    """Figures of each level that has a flag, with all its results and without the flagged cell or group."""
    tests, lines, unit = tuple(tests), [], ""
    for context in contexts:
        flagged = [test for test in tests if test.level == context.data.level and test.is_flagged]
        if flagged:
            unit = context.job.method.unit
            lines.append((shown(context.data.level), "all results", *_figures(context)))
        for test in flagged:
            reduced = replace(context, data=context.data.chosen(~test.mask))
            lines.append((shown(context.data.level), f"without rows {test.rows}", *_figures(reduced)))
    if not lines:
        return None
    return ResultTable(
        name="flagged",
        title="Figures with and without flagged results",
        columns=(
            _text("level"),
            _text("results"),
            TableColumn(title="N"),
            TableColumn(title="mean", unit=unit),
            TableColumn(title="s_r", unit=unit),
            TableColumn(title="total standard deviation", unit=unit),
        ),
        rows=tuple(lines),
        note="Flagged; a reason is needed; both results stand here. Only a reason written in the protocol excludes.",
    )


def _figures(context: LevelContext) -> tuple[float | None, ...]:
    try:
        found = components(context.data, context.settings.design, context.job.method.unit)
    except ValueError:
        return (float(context.data.n), None, None, None)
    *_, total = found.totals.values()
    return (float(found.n), found.mean, found.s_r.value, total.value)


def _text(title: str) -> TableColumn:
    return TableColumn(title=title, kind="text")
