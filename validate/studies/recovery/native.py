"""What the unspiked sample already holds: from the protocol, from a column, or from rows with added 0."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from validate.stats.descriptive import summary
from validate.studies.recovery.grouping import Grouping
from validate.studies.recovery.settings import RecoverySettings

if TYPE_CHECKING:
    import pandas as pd

NO_NUMBER = ("", "NA", "N/A")
"""Marks of a result that was never obtained; any other mark (`<2`, `n.d.`) is a censored result."""

KNOWN_CONTENT = "Where the content is known in another way, give it under `native` with `value` and `u`."


@dataclass(frozen=True)
class Native:
    """Content of the unspiked sample: mean, standard uncertainty and its degrees of freedom (None: taken as known)."""

    value: float
    u: float
    df: float | None
    words: str
    doubt: str = ""
    """What the reader must know of this content."""
    blocked: tuple[str, ...] = ()
    """Why no verdict on trueness can rest on this content."""


def is_censored(values: pd.DataFrame, marks: pd.DataFrame) -> np.ndarray:
    """For each row: whether a number is missing because it was below a limit or not detected."""
    found = np.zeros(len(values), dtype=bool)
    for role in values:
        found |= (values[role].isna() & ~marks[role].str.strip().str.upper().isin(NO_NUMBER)).to_numpy(bool)
    return found


def native_content(
    settings: RecoverySettings, kept: pd.DataFrame, unspiked: Unspiked | None, days: Grouping | None
) -> tuple[Native | None, np.ndarray | None]:
    """The content for the whole level, or one native result for each result in `kept`."""
    declared = settings.native
    if declared is None:
        return None, None
    if declared.from_ == "column":
        return None, kept["native"].to_numpy(float) if "native" in kept else None
    if declared.from_ == "rows":
        return _of_rows(unspiked, kept, days) if unspiked is not None else (None, None)
    s, n = declared.s, declared.n
    if s is not None and n:
        return Native(declared.value or 0.0, s / n**0.5, n - 1, f"mean of {n} results on the unspiked sample"), None
    return Native(declared.value or 0.0, declared.u or 0.0, None, "native content given in the protocol"), None


@dataclass(frozen=True)
class Unspiked:
    """Numerical results on the unspiked sample, and how many more were censored."""

    results: pd.DataFrame
    censored: int


def unspiked_results(frame: pd.DataFrame, marks: pd.DataFrame) -> Unspiked:
    """Rows with added 0."""
    rows = frame[frame["added"] == "0"]
    censored = int(is_censored(rows[["found"]], marks.loc[rows.index, ["found"]]).sum())
    return Unspiked(rows[rows["found"].notna()], censored)


def _of_rows(unspiked: Unspiked, kept: pd.DataFrame, days: Grouping | None) -> tuple[Native | None, np.ndarray | None]:
    """Paired within days when each day of the level has results on the unspiked sample."""
    results, censored = unspiked.results, unspiked.censored
    total = len(results) + censored
    blocked = (f"{censored} of {total} results on the unspiked sample are censored: its content is not known",)
    blocked = blocked if censored else ()
    if results.empty:
        words = "results on the unspiked sample are all censored" if censored else "no results on the unspiked sample"
        return Native(0.0, 0.0, None, words, f"Native content taken as 0: {words}. {KNOWN_CONTENT}", blocked), None
    if not censored and days is not None and days.one == "day" and days.count > 1:
        by_day = results.groupby("day")["found"].mean()
        if set(kept["day"]) <= set(by_day.index):
            return None, kept["day"].map(by_day).to_numpy(float)
    values, n = results["found"].to_numpy(float), len(results)
    doubt = f"Censored results on the unspiked sample: {censored}. The native content is too high. {KNOWN_CONTENT}"
    doubt = doubt if censored else ""
    words = f"mean of {n} results on the unspiked sample" if n > 1 else "the one result on the unspiked sample"
    if n == 1:
        return Native(float(values[0]), 0.0, None, words, doubt, blocked), None
    found = summary(values)
    return Native(found.mean, found.u, found.df, words, doubt, blocked), None
