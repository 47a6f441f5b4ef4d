"""The functions that a check file may name. Nothing else can be called from a file."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from validate.checks import catalogue
from validate.stats import detection, horwitz, intervals, outliers, precision, regression, uncertainty


def _cochran(laboratories: int, replicates: int) -> outliers.Flag:
    """Cochran's test of equal variances: its critical values depend only on p and n."""
    return outliers.cochran([1.0] * laboratories, replicates)


def _grubbs(results: int) -> outliers.Flag:
    """Grubbs' two-sided test of evenly spaced results: its critical values depend only on n."""
    return outliers.grubbs(range(results), sides=2)


def _grubbs_pair(results: int) -> outliers.PairFlag:
    """Grubbs' pair test of evenly spaced results: its critical values depend only on n."""
    return outliers.grubbs_pair(range(results), end="high")


def _correlation(x: Sequence[float], y: Sequence[float]) -> float:
    """|r|, as older texts print it beside a calibration line."""
    return math.sqrt(regression.line(x, y).r_squared)


def _half_widths(x: Sequence[float], y: Sequence[float]) -> Mapping[str, float]:
    """95 % limits of slope and intercept as ± figures."""
    fit = regression.line(x, y, level=0.95)
    return {"slope": fit.slope_limits.high - fit.slope, "intercept": fit.intercept_limits.high - fit.intercept}


def _inverse_predict(x: Sequence[float], y: Sequence[float], **choices: float) -> regression.InversePrediction:
    """The content that an ordinary line through the points gives for a signal y0."""
    return regression.inverse_predict(regression.line(x, y), **choices)


def _from_calibration(x: Sequence[float], y: Sequence[float], **choices: Any) -> detection.SlopeLimits:
    """Multiples of a standard deviation over the slope of an ordinary line through the points."""
    return detection.from_calibration(regression.line(x, y), **choices)


def _mdl_of_unit_scatter(results: int) -> float:
    """Method detection limit of spikes whose standard deviation is 1: the t of the rule."""
    return detection.method_detection_limit(_unit_scatter(results)).mdl_spiked


def _blanks_of_unit_scatter(number: int, **choices: Any) -> detection.BlankLimits:
    """Limits from blanks whose mean is 0 and standard deviation 1: the factors of the rule."""
    return detection.from_blanks(_unit_scatter(number), **choices)


def _known_scatter(blanks: float, m: int = 1) -> Mapping[str, float]:
    """What `from_blanks` comes to when σ is known and 1; `blanks` may be infinite (blank well known)."""
    root = math.sqrt(1 / m + 1 / blanks)
    z, delta = intervals.t_quantile(0.95, math.inf), detection.noncentrality(math.inf)
    return {"critical": z * root, "detection": delta * root}


def _unit_scatter(n: int) -> list[float]:
    """n evenly spaced results with mean 0 and standard deviation 1."""
    step = math.sqrt(12 / (n * (n + 1)))
    return [(i - (n - 1) / 2) * step for i in range(n)]


CALLS: Mapping[str, Callable[..., Any]] = {
    "horwitz.predicted_rsd_percent": horwitz.predicted_rsd_percent,
    "horwitz.predicted_sd": horwitz.predicted_sd,
    "horwitz.horrat": horwitz.horrat,
    "precision.one_way": precision.one_way,
    "precision.repeatability_limit": precision.repeatability_limit,
    "outliers.cochran": _cochran,
    "outliers.grubbs": _grubbs,
    "outliers.grubbs_pair": _grubbs_pair,
    "intervals.t_quantile": intervals.t_quantile,
    "regression.line": regression.line,
    "regression.correlation": _correlation,
    "regression.half_widths": _half_widths,
    "regression.inverse_predict": _inverse_predict,
    "regression.mandel_fitting_test": regression.mandel_fitting_test,
    "regression.quadratic_against_line": regression.quadratic_against_line,
    "detection.method_detection_limit": detection.method_detection_limit,
    "detection.mdl_of_unit_scatter": _mdl_of_unit_scatter,
    "detection.blanks_of_unit_scatter": _blanks_of_unit_scatter,
    "detection.known_scatter": _known_scatter,
    "detection.from_calibration": _from_calibration,
    "uncertainty.guard_band": uncertainty.guard_band,
    "uncertainty.acceptance_limit": uncertainty.acceptance_limit,
    "uncertainty.default_uncertainty": uncertainty.default_uncertainty,
    "uncertainty.fitness_uncertainty": uncertainty.fitness_uncertainty,
    "criteria.bound": catalogue.bound,
    "criteria.exceptional_bound": catalogue.exceptional_bound,
    "criteria.minimum_design": catalogue.minimum_design,
}
