"""What the reader must know of one level: few groups, negative estimates, coarse or missing readings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from validate.studies.precision.context import RESOLUTION_SHARE, LevelContext
from validate.studies.precision.model import Components
from validate.studies.precision.outliers import OutlierTest
from validate.tables.table import row_ranges
from validate.vocabulary.evaluation import Remark

FEW_VALUES_SHARE = 0.5
"""Fewer different values than this share of the results: the reading is coarse for its scatter."""


def remarks(context: LevelContext, found: Components | str, tests: Iterable[OutlierTest]) -> tuple[Remark, ...]:
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
            if test.is_flagged
        ]
    return tuple(Remark(kind=kind, text=text, level=data.level, rows=rows) for kind, text, rows in told)  # type: ignore[arg-type]


def _about_numbers(context: LevelContext) -> list[tuple[str, str, str]]:
    data, method = context.data, context.job.method
    told = []
    if len(data.censored):
        text = f"{len(data.censored)} results are no numbers (below a limit, not detected): left out, no verdict"
        told.append(("warning", text, row_ranges(data.censored)))
    if len(data.without_result):
        told.append(("note", f"{len(data.without_result)} rows hold no result", row_ranges(data.without_result)))
    if data.at_floor:
        text = f"{data.at_floor} results stand at the floor of the reading ({method.floor:g} {method.unit}): no verdict"
        told.append(("warning", text, ""))
    different = np.unique(data.values).size
    if data.n >= 4 and method.resolution and different < FEW_VALUES_SHARE * data.n and different <= data.n - 3:
        steps = f"steps of {method.resolution:g} {method.unit}"
        text = f"only {different} different values among {data.n} results: {steps} are coarse for this scatter"
        told.append(("note", text, ""))
    return told


def _about_components(context: LevelContext, found: Components) -> list[tuple[str, str, str]]:
    method = context.job.method
    told = []
    if found.few:
        told.append(("warning", f"few groups: {', '.join(found.few)}; the spread that they add is hardly known", ""))
    for title in found.negative:
        text = (
            f"the variance estimate of {title} is negative and counted as 0: what is seen there is no more than the "
            "scatter within explains; the raw estimate stands in the table of components"
        )
        told.append(("note", text, ""))
    if method.resolution and found.s_r.value < RESOLUTION_SHARE * method.resolution:
        step, rounding = f"{method.resolution:g} {method.unit}", f"{method.resolution / 12**0.5:.2g} {method.unit}"
        text = (
            f"the repeatability standard deviation is below half a step of the reading ({step}): "
            f"it shows the rounding (standard uncertainty {rounding}), no verdict"
        )
        told.append(("warning", text, ""))
    return told


def unequal_numbers(estimated: Mapping[str | None, Components]) -> tuple[Remark, ...]:
    """Said once, however many levels it holds for."""
    uneven = [level for level, found in estimated.items() if not found.balanced]
    if not uneven:
        return ()
    where = "" if None in uneven or len(uneven) == len(estimated) else f" at {', '.join(map(str, uneven))}"
    text = f"unequal numbers of results{where}: totals use effective group sizes, their limits unweighted means"
    return (Remark(kind="note", text=text),)
