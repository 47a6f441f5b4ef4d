"""Collaborative trials: the precision of a method from the results of several laboratories.

`interlaboratory_precision`: general mean, s_r, s_L, s_R, r, R by level; split levels and
Youden pairs. `interlaboratory_mandel`: h and k. `interlaboratory_screening`: the tests for outliers in the order of
the standard. `interlaboratory_binary`: results that are only `detected` or `not detected`.
Import them from here.
"""

from __future__ import annotations

from validate.stats.interlaboratory_binary import (
    ProbabilityAcrossLaboratories,
    detection_across_laboratories,
)
from validate.stats.interlaboratory_cells import Cell, cells_of
from validate.stats.interlaboratory_mandel import Mandel, mandel_h, mandel_k
from validate.stats.interlaboratory_precision import (
    AccuracyExperiment,
    LevelPrecision,
    SplitLevel,
    accuracy_experiment,
    split_level,
)
from validate.stats.interlaboratory_screening import LARGEST_SHARE, Screening, Step, screen

__all__ = [
    "LARGEST_SHARE",
    "AccuracyExperiment",
    "Cell",
    "LevelPrecision",
    "Mandel",
    "ProbabilityAcrossLaboratories",
    "Screening",
    "SplitLevel",
    "Step",
    "accuracy_experiment",
    "cells_of",
    "detection_across_laboratories",
    "mandel_h",
    "mandel_k",
    "screen",
    "split_level",
]
