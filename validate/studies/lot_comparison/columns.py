"""The columns of a comparison's table: one row for each result."""

from __future__ import annotations

from validate.studies.lot_comparison.settings import LotComparisonSettings
from validate.tables.table import Column

SAMPLE, CONTROL, BLANK, STANDARD = "sample", "control", "blank", "standard"
CONTENTS = (SAMPLE, CONTROL, BLANK, STANDARD)
"""What a row is a result on, as written in column `what`; an empty cell or a missing column means sample."""
CONDITIONS = ("run", "day", "analyst", "instrument", "lot")
"""Conditions that a table may record beside the factor."""

BEFORE = (
    Column(role="sample", title="code of the sample; the same with both", type="label", identifies=True),
    Column(role="level", title="nominal level of the sample", type="level", unit="method", required=False, minimum=0,
           censored=True),
)  # fmt: skip
AFTER = (
    Column(role="result", title="result as read", type="number", unit="method", censored=True),
    Column(role="replicate", title="number of the repeated result", type="label", required=False, identifies=True),
    Column(role="what", title="sample, control, blank or standard; empty for sample", type="label",
           required=False),
    Column(role="added", title="content of a standard that was passed through the column", type="number",
           unit="method", required=False, minimum=0, censored=True),
    Column(role="group", title="run or day whose pairs belong together", type="label", required=False),
)  # fmt: skip


def factor_column(factor: str) -> Column:
    return Column(role=factor, title=f"{factor} of the result: new or current", type="label", identifies=True)


def columns_of(settings: LotComparisonSettings) -> tuple[Column, ...]:
    """Columns of this protocol's table; the factor's column is called by its name."""
    sample, level = BEFORE
    level = Column(**{**vars(level), "required": bool(settings.design.levels)})
    group = Column(**{**vars(AFTER[-1]), "required": settings.group_means})
    conditions = tuple(
        Column(role=name, title=f"{name} of the result", type="label", required=False)
        for name in CONDITIONS
        if name != settings.factor
    )
    return (sample, level, factor_column(settings.factor), *AFTER[:-1], group, *conditions)
