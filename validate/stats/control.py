"""Control charts: is a process (a control material, a check standard) still what it was?

| question | function |
|---|---|
| limits of single values, and of their moving range | `individuals` |
| limits of means and ranges of runs with several readings | `mean_and_range` |
| points beyond limits, runs, trends | `signals`, by the names in `RULES` |
| whether neighbouring runs resemble each other | `serial_correlation` |
| small lasting shifts | `ewma`, `cusum` |
| how long until a false alarm, or until a shift is found | `run_length` (by simulation) |

Limits come from a base period or are given. The text is in the modules `control_…`.
"""

from validate.stats.control_limits import (
    Individuals,
    MeanAndRange,
    individuals,
    mean_and_range,
    range_constants,
    serial_correlation,
)
from validate.stats.control_memory import Cusum, Ewma, cusum, ewma
from validate.stats.control_rules import RULES, Rule, Signal, run_length, signals

__all__ = [
    "RULES",
    "Cusum",
    "Ewma",
    "Individuals",
    "MeanAndRange",
    "Rule",
    "Signal",
    "cusum",
    "ewma",
    "individuals",
    "mean_and_range",
    "range_constants",
    "run_length",
    "serial_correlation",
    "signals",
]
