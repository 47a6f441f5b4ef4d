"""From the table to what is compared: pairs (or two samples) of each level, and the rows beside them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from validate.studies.lot_comparison.columns import SAMPLE
from validate.studies.lot_comparison.settings import LotComparisonSettings

if TYPE_CHECKING:
    import pandas as pd

    from validate.tables.table import Table

Floats = NDArray[np.float64]
NEW, CURRENT = "new", "current"


@dataclass(frozen=True)
class Compared:
    """The results that are compared at one level, or over all of them.

    Paired: `new[i]` and `current[i]` belong to `samples[i]`, replicates averaged (geometric
    mean for ratios). Not paired: two samples of any size. Rows are those of the file.
    """

    level: str | None
    is_ratio: bool
    paired: bool
    samples: tuple[str, ...]
    new: Floats
    current: Floats
    groups: tuple[str, ...] | None
    row_of: tuple[int, ...]
    """For each pair the row of its first result, for the reader who points at one."""
    rows: tuple[int, ...]
    censored: tuple[int, ...]
    """Rows left out of the figures: no number, or a ratio without a logarithm."""
    lone: tuple[int, ...]
    """Rows whose partner is missing."""

    @property
    def n(self) -> int:
        """Pairs; not paired: results of both."""
        return self.new.size if self.paired else self.new.size + self.current.size

    @cached_property
    def differences(self) -> Floats:
        """new − current of each pair, of logarithms for ratios."""
        return np.log(self.new) - np.log(self.current) if self.is_ratio else self.new - self.current


def results_of(table: Table, what: str) -> pd.DataFrame:
    """The rows on samples, controls, blanks or standards."""
    frame = table.frame
    if "what" not in frame.columns:
        return frame if what == SAMPLE else frame.iloc[:0]
    written = frame["what"].replace("", SAMPLE)
    return frame[written == what]


def side_of(frame: pd.DataFrame, settings: LotComparisonSettings, side: str) -> pd.DataFrame:
    """The rows of the new or the current lot."""
    return frame[frame[settings.factor] == (settings.new if side == NEW else settings.current)]


def compared(table: Table, settings: LotComparisonSettings) -> tuple[Compared, ...]:
    """One for each declared level in their order, also where nothing was measured; one in all without levels."""
    frame = results_of(table, SAMPLE)
    levels = settings.design.levels
    if not levels:
        return (_compared(frame, settings, None),)
    return tuple(_compared(frame[frame["level"] == level], settings, level) for level in levels)


def together(parts: tuple[Compared, ...]) -> Compared:
    """All levels as one."""
    if len(parts) == 1:
        return parts[0]
    first = parts[0]
    has_groups = all(part.groups is not None for part in parts)
    return Compared(
        level=None,
        is_ratio=first.is_ratio,
        paired=first.paired,
        samples=tuple(sample for part in parts for sample in part.samples),
        new=np.concatenate([part.new for part in parts]),
        current=np.concatenate([part.current for part in parts]),
        groups=tuple(group for part in parts for group in part.groups or ()) if has_groups else None,
        row_of=tuple(row for part in parts for row in part.row_of),
        rows=tuple(row for part in parts for row in part.rows),
        censored=tuple(row for part in parts for row in part.censored),
        lone=tuple(row for part in parts for row in part.lone),
    )


def _compared(frame: pd.DataFrame, settings: LotComparisonSettings, level: str | None) -> Compared:
    frame = frame[frame[settings.factor].isin([settings.new, settings.current])]
    values = frame["result"]
    usable = values.notna() & ((values > 0) | (not settings.is_ratio))
    censored = tuple(int(row) for row in frame.index[~usable])
    if not settings.paired:
        return _unpaired(frame[usable], settings, level, censored)
    # A sample with one censored result is no pair: its numbers alone would be the high ones.
    spoiled = set(frame.loc[~usable, "sample"])
    whole = frame[usable & ~frame["sample"].isin(spoiled)]
    means = {side: _means(side_of(whole, settings, side), settings) for side in (NEW, CURRENT)}
    paired = [sample for sample in dict.fromkeys(whole["sample"]) if all(sample in m.index for m in means.values())]
    pairs = whole[whole["sample"].isin(paired)]
    first = pairs.drop_duplicates("sample").set_index("sample")
    row_of = dict(zip(reversed(pairs["sample"].tolist()), reversed(pairs.index.tolist()), strict=True))
    return Compared(
        level=level,
        is_ratio=settings.is_ratio,
        paired=True,
        samples=tuple(paired),
        new=means[NEW].loc[paired].to_numpy(float),
        current=means[CURRENT].loc[paired].to_numpy(float),
        groups=tuple(first.loc[paired, "group"]) if settings.group_means else None,
        row_of=tuple(int(row_of[sample]) for sample in paired),
        rows=tuple(int(row) for row in pairs.index),
        censored=censored,
        lone=tuple(int(row) for row in whole.index[~whole["sample"].isin(paired)]),
    )


def _unpaired(
    frame: pd.DataFrame, settings: LotComparisonSettings, level: str | None, censored: tuple[int, ...]
) -> Compared:
    new, current = (side_of(frame, settings, side) for side in (NEW, CURRENT))
    return Compared(
        level=level,
        is_ratio=settings.is_ratio,
        paired=False,
        samples=(),
        new=new["result"].to_numpy(float),
        current=current["result"].to_numpy(float),
        groups=None,
        row_of=(),
        rows=tuple(int(row) for row in frame.index),
        censored=censored,
        lone=(),
    )


def _means(frame: pd.DataFrame, settings: LotComparisonSettings) -> pd.Series:
    """Mean of each sample's repeated results; of their logarithms for ratios."""
    values = np.log(frame["result"]) if settings.is_ratio else frame["result"]
    means = values.groupby(frame["sample"], sort=False).mean()
    return np.exp(means) if settings.is_ratio else means
