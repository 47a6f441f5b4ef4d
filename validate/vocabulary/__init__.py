"""The words that all layers share: places, problems, quantities, findings, verdicts, plot data.

Nothing here reads files, computes a statistic or renders a page, and nothing here
imports another room of the house.
"""

from typing import Any

FROZEN: Any = {"extra": "forbid", "allow_inf_nan": False}
"""Configuration of every dataclass that travels in evaluation.json: no unknown key, no NaN."""
