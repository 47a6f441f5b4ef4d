"""Samples with masses and volumes of their own: the portion of each row against the protocol's."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from validate.portion.chain import chain_of
from validate.portion.checking import PROBLEMS
from validate.tables.reading import TableReading
from validate.tables.table import Column, row_ranges
from validate.vocabulary.portion import PortionRows
from validate.vocabulary.problem import Problem

if TYPE_CHECKING:
    from validate.protocol.model import Portion
    from validate.protocol.settings import DataSource

STEPS = {"weighed": ("weigh", 1), "extract_volume": ("extract_in", -1), "loaded": ("load", 1)}
"""Column → step of the portion, and its power in the portion represented."""
_ROUNDING = 1e-9
MOST_CELLS = 20


def with_portion_columns(columns: Sequence[Column], source: DataSource, portion: Portion) -> tuple[Column, ...]:
    """The columns of a study, with those for the mass and volumes of each sample that the portion has steps for."""
    from validate.portion.chain import TITLES, unit_of

    taken = {source.columns.get(c.role, c.role) for c in columns} | {c.role for c in columns}
    extra = []
    for role, (step, _) in STEPS.items():
        if getattr(portion, step) is None or {role, source.columns.get(role, role)} & taken:
            continue
        unit = unit_of(portion.weigh) if step == "weigh" else "mL"
        title = f"{TITLES[step].lower()} of this sample"
        extra.append(Column(role=role, title=title, type="number", required=False, unit=unit, minimum=0, censored=True))
    return (*columns, *extra)


def compare_rows(study: str, reading: TableReading, portion: Portion) -> tuple[PortionRows | None, list[Problem]]:
    """The portions of a table's rows as shares of the protocol's; (None, []) where it records none.

    The share of a row is the product of (recorded / nominal)^±1; the tolerances allow the
    sum of their relative sizes, the worst case, over the steps that the table records.
    """
    frame = reading.reported.frame if reading.reported is not None else None
    roles = [] if frame is None else [role for role in STEPS if role in frame and frame[role].notna().any()]
    if not roles or any(getattr(portion, STEPS[role][0]) is None for role in roles):
        return None, []
    chain = chain_of(portion)
    zeros = [
        PROBLEMS.problem("portion-of-nothing", reading.cell(int(row), role), value="0", role=role)
        for role in roles
        for row in frame.index[frame[role] <= 0][:MOST_CELLS]
    ]
    if zeros:
        return None, zeros
    shares, allowed, lacking = 1.0, 0.0, []
    for role in roles:
        step, power = STEPS[role]
        nominal = getattr(chain, step)
        shares = shares * (frame[role] / nominal.value).fillna(1.0) ** power
        if nominal.tolerance is None:
            lacking.append(step)
        else:
            allowed += nominal.tolerance / nominal.value
    shares = shares[frame[roles].notna().any(axis=1)]
    beyond = shares.index[(shares - 1).abs() > allowed + _ROUNDING] if not lacking else shares.index[:0]
    told = PortionRows(
        study=study,
        file=reading.name,
        samples=len(shares),
        low=float(shares.min()),
        high=float(shares.max()),
        allowed=None if lacking else allowed,
        differing=row_ranges(beyond) if len(beyond) else "",
        sentence=_sentence(reading.name, shares, beyond, None if lacking else allowed),
    )
    return told, _told(reading, told, lacking)


def _sentence(file: str, shares: Sequence[float], beyond: Sequence[int], allowed: float | None) -> str:
    span = f"{min(shares):.4g} to {max(shares):.4g} times the protocol's"
    spread = f"{file}: {len(shares)} rows record a portion of their own, {span}"
    if allowed is None:
        return f"{spread}; the protocol states no tolerance to hold them against."
    verdict = f"{len(beyond)} differ by more" if len(beyond) else "none differs by more"
    return f"{spread}; the tolerances allow ± {100 * allowed:.3g} %, {verdict}."


def _told(reading: TableReading, told: PortionRows, lacking: Sequence[str]) -> list[Problem]:
    values = {"low": f"{told.low:.4g}", "high": f"{told.high:.4g}"}
    if lacking:
        return [PROBLEMS.problem("portion-without-tolerance", reading.place, steps=", ".join(lacking), **values)]
    if told.differing:
        allowed = f"± {100 * told.allowed:.3g} %"
        return [PROBLEMS.problem("portion-differs", reading.place, rows=told.differing, allowed=allowed, **values)]
    return []
