"""From the table to numbers: units, filling order, occasions, and what is no number."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from validate.tables.table import Column, Table

if TYPE_CHECKING:
    import pandas as pd

RESULT = Column(role="result", title="result as read", type="number", unit="method", censored=True)
UNIT = Column(role="unit", title="unit (bottle, bag) that was measured", type="label")
REPLICATE = Column(role="replicate", title="number of the portion within the unit", type="label", required=False)
ORDER = Column(
    role="order",
    title="place of the unit in the filling order; may be empty",
    type="number",
    required=False,
    minimum=0,
    censored=True,  # an empty cell may stand here: units kept aside for stability need no place
)
DAYS = Column(
    role="days",
    title="days since the homogeneity measurement; absent when there was one occasion",
    type="number",
    required=False,
    minimum=0,
)
COLUMNS = (UNIT, REPLICATE, ORDER, DAYS, RESULT)
NO_RESULT = ("", "NA")


@dataclass(frozen=True)
class Occasion:
    """Results that are numbers, of one occasion, with their units."""

    days: float
    values: np.ndarray
    units: np.ndarray
    order: np.ndarray | None
    rows: pd.Index

    @property
    def labels(self) -> tuple[str, ...]:
        """Units in order of first appearance."""
        return tuple(dict.fromkeys(self.units.tolist()))

    @property
    def unit_means(self) -> np.ndarray:
        return np.asarray([self.values[self.units == label].mean() for label in self.labels])

    @property
    def unit_order(self) -> np.ndarray | None:
        """Place of each unit; None when a unit has none or two."""
        if self.order is None:
            return None
        places = [np.unique(self.order[self.units == label]) for label in self.labels]
        if any(p.size != 1 or not np.isfinite(p[0]) for p in places):
            return None
        return np.asarray([p[0] for p in places])

    def without(self, label: str) -> Occasion:
        """The occasion without one unit."""
        keep = self.units != label
        order = None if self.order is None else self.order[keep]
        return Occasion(self.days, self.values[keep], self.units[keep], order, self.rows[keep])


@dataclass(frozen=True)
class Samples:
    """Occasions in the order of time; the first is the one for homogeneity."""

    occasions: tuple[Occasion, ...]
    censored: pd.Index
    without_result: pd.Index
    at_floor: int

    @property
    def first(self) -> Occasion:
        return self.occasions[0]

    @property
    def later(self) -> tuple[Occasion, ...]:
        return self.occasions[1:]


def samples_of(table: Table, floor: float | None) -> Samples | None:
    """The results of a table; None when it holds no number."""
    frame = table.frame
    result = frame["result"].to_numpy(dtype=float)
    number = np.isfinite(result)
    marks = table.marks["result"]
    empty = (~number) & marks.isin(NO_RESULT).to_numpy(dtype=bool)
    if not number.any():
        return None
    chosen, values = frame[number], result[number]
    days = chosen["days"].to_numpy(dtype=float) if "days" in chosen else np.zeros(values.size)
    order = chosen["order"].to_numpy(dtype=float) if "order" in chosen else None
    units = chosen["unit"].astype(str).to_numpy(dtype=object)
    known = np.isfinite(days)
    occasions = tuple(
        Occasion(float(day), values[at], units[at], None if order is None else order[at], chosen.index[at])
        for day in np.unique(days[known])
        for at in [days == day]
    )
    if not occasions:
        return None
    return Samples(
        occasions=occasions,
        censored=frame.index[(~number) & ~empty],
        without_result=frame.index[empty],
        at_floor=0 if floor is None else int(np.count_nonzero(values <= floor)),
    )
