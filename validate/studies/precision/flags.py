"""What stands out or looks odd in the data: flagged, never removed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from validate.stats.outliers import Flag, cochran, grubbs
from validate.studies.precision.context import RESOLUTION_SHARE, LevelContext
from validate.studies.precision.groups import cell_codes
from validate.studies.precision.model import Components
from validate.studies.precision.words import plural
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import Remark

FEWEST_GROUPS = 3
FEW_VALUES_SHARE = 0.5
"""Fewer different values than this share of the results: the reading is coarse for its scatter."""


@dataclass(frozen=True)
class OutlierTest:
    """One test at one level; `rows` are those of the cell or group that stands out most."""

    level: str | None
    name: str
    statistic: float | None
    critical_5: float | None
    critical_1: float | None
    p_bound: float | None
    rows: str
    reason: str = ""

    @property
    def outcome(self) -> str:
        """In the words of ISO 5725-2: outlier above the 1 % value, straggler above the 5 % value."""
        if self.statistic is None:
            return self.reason
        if self.statistic > self.critical_1:
            return "outlier (1 %)"
        return "straggler (5 %)" if self.statistic > self.critical_5 else "nothing stands out"


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


def _tested(context: LevelContext, name: str, flag: Flag, mask: object) -> OutlierTest:
    return OutlierTest(
        level=context.data.level,
        name=name,
        statistic=flag.statistic,
        critical_5=flag.critical_5,
        critical_1=flag.critical_1,
        p_bound=flag.p_bound,
        rows=row_ranges(context.data.rows[mask(flag.index)]),  # type: ignore[operator]
    )


def _untested(context: LevelContext, name: str, reason: str) -> OutlierTest:
    return OutlierTest(context.data.level, name, None, None, None, None, "", f"not tested: {reason}")


def remarks(context: LevelContext, found: Components | str, tests: tuple[OutlierTest, ...]) -> tuple[Remark, ...]:
    """What the reader must know of one level; `found` is a text when the components could not be estimated."""
    data = context.data
    told = [*_about_numbers(context)]
    if isinstance(found, str):
        told.append(("warning", f"no precision can be computed: {found}", ""))
    else:
        told += _about_components(context, found)
        told += [
            ("flag", f"{test.name}: {test.outcome}. A reason is needed; the results stay in the figures.", test.rows)
            for test in tests
            if test.statistic is not None and test.statistic > test.critical_5
        ]
    return tuple(Remark(kind=kind, text=text, level=data.level, rows=rows) for kind, text, rows in told)  # type: ignore[arg-type]


def _about_numbers(context: LevelContext) -> list[tuple[str, str, str]]:
    data, method = context.data, context.job.method
    told = []
    if len(data.censored):
        text = f"{len(data.censored)} results are no numbers (below a limit, not detected): left out of the figures, no verdict"
        told.append(("warning", text, row_ranges(data.censored)))
    if len(data.without_result):
        told.append(("note", f"{len(data.without_result)} rows hold no result", row_ranges(data.without_result)))
    if data.at_floor:
        text = f"{data.at_floor} results stand at the floor of the reading ({method.floor:g} {method.unit}): no verdict"
        told.append(("warning", text, ""))
    different = np.unique(data.values).size
    if data.n >= 4 and method.resolution and different < FEW_VALUES_SHARE * data.n and different <= data.n - 3:
        text = f"only {different} different values among {data.n} results: the reading in steps of {method.resolution:g} is coarse for this scatter"
        told.append(("note", text, ""))
    return told


def _about_components(context: LevelContext, found: Components) -> list[tuple[str, str, str]]:
    method, outer = context.job.method, context.settings.design.outer.called
    told = []
    if found.few:
        told.append(("warning", f"few groups: {', '.join(found.few)}; the spread that they add is hardly known", ""))
    for title in found.negative:
        text = (
            f"the variance estimate of {title} is negative and counted as 0: the scatter within {plural(outer)} explains "
            "all that is seen between them; the raw estimate stands in the table of components"
        )
        told.append(("note", text, ""))
    if method.resolution and found.s_r.value < RESOLUTION_SHARE * method.resolution:
        text = (
            f"the repeatability standard deviation is below half a step of the reading ({method.resolution:g} {method.unit}): "
            f"it shows the rounding (standard uncertainty {method.resolution / 12**0.5:.2g} {method.unit}), no verdict"
        )
        told.append(("warning", text, ""))
    if not found.balanced:
        text = "unequal numbers of results: totals from mean squares with effective group sizes, limits from unweighted means"
        told.append(("note", text, ""))
    return told
