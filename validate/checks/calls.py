"""The functions that a check file may name. Nothing else can be called from a file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from validate.checks import catalogue
from validate.stats import horwitz, outliers, precision


def _cochran(laboratories: int, replicates: int) -> outliers.Flag:
    """Cochran's test of equal variances: its critical values depend only on p and n."""
    return outliers.cochran([1.0] * laboratories, replicates)


def _grubbs(results: int) -> outliers.Flag:
    """Grubbs' two-sided test of evenly spaced results: its critical values depend only on n."""
    return outliers.grubbs(range(results), sides=2)


def _grubbs_pair(results: int) -> outliers.PairFlag:
    """Grubbs' pair test of evenly spaced results: its critical values depend only on n."""
    return outliers.grubbs_pair(range(results), end="high")


CALLS: Mapping[str, Callable[..., Any]] = {
    "horwitz.predicted_rsd_percent": horwitz.predicted_rsd_percent,
    "horwitz.predicted_sd": horwitz.predicted_sd,
    "horwitz.horrat": horwitz.horrat,
    "precision.one_way": precision.one_way,
    "precision.repeatability_limit": precision.repeatability_limit,
    "outliers.cochran": _cochran,
    "outliers.grubbs": _grubbs,
    "outliers.grubbs_pair": _grubbs_pair,
    "criteria.bound": catalogue.bound,
    "criteria.exceptional_bound": catalogue.exceptional_bound,
    "criteria.minimum_design": catalogue.minimum_design,
}
