"""What a cell without a number or a label means."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

NO_NUMBER = ("", "NA", "N/A")
"""Marks of a result that was never obtained; any other mark (`<2`, `n.d.`) is a censored result."""


def is_recorded(frame: pd.DataFrame, role: str) -> bool:
    """Whether the table has the column and a label in each of its cells."""
    return role in frame and len(frame) > 0 and bool((frame[role].notna() & frame[role].ne("")).all())
