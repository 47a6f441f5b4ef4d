"""Which results belong together: days for the interval of the mean, runs for intermediate precision."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from validate.studies.recovery.settings import DAY_AND_ANALYST, RecoverySettings

if TYPE_CHECKING:
    import pandas as pd

GROUPING_ROLES = ("day", "run", "analyst")
"""Columns that say which results belong together; the first recorded one carries the mean."""


@dataclass(frozen=True)
class Grouping:
    """Labels that say which results belong together, and the words for one such group."""

    labels: np.ndarray
    codes: np.ndarray
    one: str
    many: str

    @property
    def count(self) -> int:
        return len(self.labels)

    def only(self, kept: np.ndarray) -> Grouping:
        """The groups of the results where `kept` is true; groups left empty disappear."""
        names, codes = np.unique(self.codes[kept], return_inverse=True)
        return replace(self, labels=self.labels[names], codes=codes)


def group_results(frame: pd.DataFrame, settings: RecoverySettings) -> tuple[Grouping | None, Grouping | None]:
    """Groups for the mean (days where recorded) and runs for intermediate precision.

    When several analysts worked on one day, a run is a day of one analyst unless the
    protocol says otherwise: pooled within the day, the repeatability would hold the
    difference between analysts.
    """
    recorded = [role for role in GROUPING_ROLES if is_recorded(frame, role)]
    if not recorded:
        return None, None
    days = _grouping(frame[recorded[0]], recorded[0])
    choice = settings.group_by
    if choice is None and recorded[0] == "day" and "analyst" in recorded and _analysts_share_days(frame):
        choice = DAY_AND_ANALYST
    if choice == DAY_AND_ANALYST and {"day", "analyst"} <= set(recorded):
        joined = frame["day"].astype(str) + " / " + frame["analyst"].astype(str)
        return days, _grouping(joined, "day of one analyst", "days of one analyst")
    if choice in recorded and choice != recorded[0]:
        return days, _grouping(frame[choice], choice)
    return days, days


def is_recorded(frame: pd.DataFrame, role: str) -> bool:
    """Whether the table has the column and a label in each of its cells."""
    return role in frame and len(frame) > 0 and bool((frame[role].notna() & frame[role].ne("")).all())


def _grouping(labels: pd.Series, one: str, many: str = "") -> Grouping:
    import pandas as pd

    codes, names = pd.factorize(labels, sort=False)
    return Grouping(np.asarray(names, dtype=object), codes, one, many or f"{one}s")


def _analysts_share_days(frame: pd.DataFrame) -> bool:
    pairs = frame[["day", "analyst"]].drop_duplicates()
    return len(pairs) > pairs["day"].nunique()
