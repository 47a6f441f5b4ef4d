"""The functions that a check file may name. Nothing else can be called from a file."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from validate.checks import catalogue
from validate.stats import (
    comparison,
    descriptive,
    design,
    detection,
    equivalence,
    homogeneity,
    horwitz,
    interlaboratory,
    intervals,
    outliers,
    precision,
    proficiency,
    regression,
    robust,
    trueness,
    uncertainty,
    variances,
)


def _cochran(laboratories: int, replicates: int) -> outliers.Flag:
    """Cochran's test of equal variances: its critical values depend only on p and n."""
    return outliers.cochran([1.0] * laboratories, replicates)


def _grubbs(results: int) -> outliers.Flag:
    """Grubbs' two-sided test of evenly spaced results: its critical values depend only on n."""
    return outliers.grubbs(range(results), sides=2)


def _grubbs_pair(results: int) -> outliers.PairFlag:
    """Grubbs' pair test of evenly spaced results: its critical values depend only on n."""
    return outliers.grubbs_pair(range(results), end="high")


def _mandel_h(laboratories: int) -> interlaboratory.Mandel:
    """h of evenly spaced means: its indicator values depend only on p."""
    return interlaboratory.mandel_h(range(laboratories))


def _mandel_k(laboratories: int, replicates: int) -> interlaboratory.Mandel:
    """k of equal standard deviations: its indicator values depend only on p and n."""
    return interlaboratory.mandel_k([1.0] * laboratories, replicates)


def _accuracy_at_one_level(values: Sequence[float], laboratory: Sequence[str]) -> interlaboratory.LevelPrecision:
    """Precision of the one level of a collaborative trial."""
    return interlaboratory.accuracy_experiment(values, laboratory, ["only"] * len(values)).levels[0]


def _cells(values: Sequence[float], laboratory: Sequence[str]) -> Mapping[str, interlaboratory.Cell]:
    """Mean and standard deviation of every laboratory, by its name."""
    return {str(cell.laboratory): cell for cell in interlaboratory.cells_of(values, laboratory)}


def _variances_of_counts(detected: Sequence[float], n: Sequence[float]) -> Mapping[str, float]:
    """Variances of binary results across laboratories, and √(p·q) of all results together."""
    found = interlaboratory.detection_across_laboratories(detected, n)
    return {
        "r": found.s_r**2, "pod": found.s_pod**2, "L": found.variance_L_raw, "R": found.s_R**2,
        "sqrt_pq": math.sqrt(found.lpod * (1 - found.lpod)),
    }  # fmt: skip


def _nested_untruncated(values: Sequence[float], outer: Sequence[str], inner: Sequence[str]) -> Mapping[str, float]:
    """Mean, mean squares and components of nested groups; components may be negative."""
    found = precision.nested(values, outer, inner)
    return {
        "mean": found.mean, "ms_outer": found.ms_outer, "ms_inner": found.ms_inner, "ms_within": found.ms_within,
        "outer": found.variance_outer_raw, "inner": found.variance_inner_raw,
    }  # fmt: skip


def _iupac_factors(units: int) -> Mapping[str, float]:
    """F1 and F2 for units measured in duplicate."""
    f1, f2 = homogeneity.iupac_factors(units)
    return {"f1": f1, "f2": f2}


def _nested_variances(values: Sequence[float], outer: Sequence[str], inner: Sequence[str]) -> Mapping[str, float]:
    """Components of variance of nested groups, as other software gives them."""
    found = precision.nested(values, outer, inner)
    return {"outer": found.s_outer**2, "inner": found.s_inner**2, "residual": found.s_r**2}


def _crossed_in_one_factor(values: Sequence[float], group: Sequence[str]) -> Mapping[str, float]:
    """REML components of variance of one random factor."""
    return precision.crossed(values, {"group": group}).components


def _sd_against_1(x: Sequence[float]) -> precision.AgainstClaim:
    """The standard deviation of a sample against a claim of 1: its limits."""
    found = descriptive.summary(x)
    return precision.against_claim(found.sd, found.n - 1, 1.0)


def _bias_of_pairs(values: Sequence[float], references: Sequence[float]) -> trueness.Bias:
    """The mean difference of pairs against 0."""
    return trueness.bias_test(_differences(values, references), 0.0)


def _tost_of_pairs(new: Sequence[float], current: Sequence[float], margin: float) -> equivalence.Equivalence:
    """Two one-sided tests of the mean difference of pairs."""
    return equivalence.tost_mean(_differences(new, current), margin)


def _differences(first: Sequence[float], second: Sequence[float]) -> list[float]:
    return [a - b for a, b in zip(first, second, strict=True)]


def _variances(new: Sequence[float], current: Sequence[float]) -> Mapping[str, float]:
    """Ratio of two variances with 95 % limits: the square of the ratio of standard deviations."""
    found = equivalence.variance_ratio(new, current, level=0.95)
    return {"f": found.f, "p_value": found.p_value, "low": found.low**2, "high": found.high**2}


def _line_weighted_with_1_over_x(x: Sequence[float], y: Sequence[float]) -> regression.Line:
    """A line through the points with weights 1/x."""
    return regression.line(x, y, [1 / value for value in x])


def _curve_over_log10_levels(
    log10_level: Sequence[float], n: Sequence[float], detected: Sequence[float], *, model: Any
) -> Mapping[str, float | None]:
    """The curve of detection on decimal logarithms of the level, as the source gives it."""
    found = detection.probability_of_detection([10**each for each in log10_level], n, detected, model=model)
    per_ten = math.log(10)
    return {
        "intercept": found.intercept, "slope": found.slope * per_ten,
        "se_intercept": found.se_intercept, "se_slope": found.se_slope * per_ten,
        "level_50": math.log10(found.level_50.value), "level_95": math.log10(found.level_95.value),
        "deviance": found.deviance,
    }  # fmt: skip


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


def _highest_mode(x: Sequence[float], bandwidth: float) -> proficiency.Mode:
    """The highest mode of the results; the bootstrap of its error plays no part."""
    return proficiency.consensus_modes(x, 1.0, bandwidth=bandwidth, seed=1, resamples=1).modes[0]


def _acceptable_percent(scores: Sequence[float], laboratories: Sequence[int]) -> float:
    """Share of acceptable scores where so many laboratories have each of `scores`."""
    found = proficiency.signals([score for score, n in zip(scores, laboratories, strict=True) for _ in range(n)],
                                kind="z")  # fmt: skip
    return 100 * sum(int(signal) == 0 for signal in found) / len(found)


def _signal(score: float) -> int:
    """0 acceptable, 1 warning signal, 2 action signal."""
    return int(proficiency.signals([score], kind="z")[0])


def _consensus_of_evenly_spaced(laboratories: int) -> Mapping[str, float]:
    """u·√p/s* of a consensus by algorithm A: the factor that stands before the spread."""
    found = proficiency.assigned_value(range(laboratories), by="algorithm A")
    return {"factor": found.u * math.sqrt(found.n) / found.sd}  # type: ignore[operator]


def _factors_of_algorithm_a() -> Mapping[str, float]:
    """The two factors of algorithm A, as computed with and as printed."""
    exact, printed = robust.EXACT, robust.PRINTED
    return {"start": exact[0], "round": exact[1], "start_printed": printed[0], "round_printed": printed[1]}


def _score_limits_percent(detected: int, n: int) -> Mapping[str, float]:
    """Limits of a proportion by the score test in per cent, with z = 1.96 for the two-sided ones."""
    both = detection.score_limits(detected, n, level=2 * intervals.t_probability(1.96, math.inf) - 1)
    one_sided = 100 * detection.score_limits(detected, n, level=0.90).low
    low, high = 100 * both.low, 100 * both.high
    return {"one_sided_low": one_sided, "low": low, "high": high, "middle": (low + high) / 2}


def _cut_off_of_summary(mean: float, sd: float, n: int, direction: Any = "proportional") -> Mapping[str, float]:
    """Cut-off of evenly spaced readings with this mean and standard deviation."""
    from validate.stats import screening

    at = screening.cut_off(_readings(mean, sd, n), direction=direction)
    return {"t": at.t, "cut_off": at.value}


def _false_suspects_of_summaries(
    mean: float, sd: float, n: int, mean_blank: float, sd_blank: float, n_blank: int
) -> Mapping[str, float]:
    """False-suspect rate of evenly spaced blanks against the cut-off of evenly spaced readings at the target."""
    from validate.stats import screening

    at = screening.cut_off(_readings(mean, sd, n), direction="proportional")
    rate = screening.false_suspect_rate(_readings(mean_blank, sd_blank, n_blank), at, direction="proportional")
    return {"t": rate.t, "rate": rate.estimate}


def _false_negative_percent(n: int) -> float:
    """Mean false-negative rate of a cut-off from n readings."""
    from validate.stats import screening

    return 100 * screening.false_negative_rate(n).estimate


def _readings(mean: float, sd: float, n: int) -> list[float]:
    return [mean + sd * each for each in _unit_scatter(n)]


def _ratio_of_95_to_50_percent(level: Sequence[float], n: Sequence[float], detected: Sequence[float]) -> float:
    """How many times the level detected with 50 % is the one detected with 95 %, with slope 1."""
    found = detection.probability_of_detection(level, n, detected, model="cloglog-slope-1")
    return found.level_95.value / found.level_50.value


def _agreement_as_printed_1986(x: Sequence[float], y: Sequence[float]) -> comparison.BlandAltman:
    """Limits of agreement with 2 s and s·√(3/n)."""
    return comparison.bland_altman(x, y, printed=True)


def _repeats_about_0(**readings: Sequence[float]) -> Mapping[str, float]:
    """SD of the differences of two readings by each meter, as the means of one person taken for equal give it."""
    persons = range(len(readings["mini_1"]))
    names = [*persons, *persons]
    x, y = ([*readings[f"{meter}_1"], *readings[f"{meter}_2"]] for meter in ("mini", "wright"))
    found = comparison.bland_altman(x, y, samples_x=names, samples_y=names)
    return {"wright": math.sqrt(2) * found.s_within_y, "mini": math.sqrt(2) * found.s_within_x}  # type: ignore[operator]


CALLS: Mapping[str, Callable[..., Any]] = {
    "horwitz.predicted_rsd_percent": horwitz.predicted_rsd_percent,
    "horwitz.predicted_sd": horwitz.predicted_sd,
    "horwitz.horrat": horwitz.horrat,
    "descriptive.summary": descriptive.summary,
    "precision.one_way": precision.one_way,
    "precision.nested_variances": _nested_variances,
    "precision.nested_untruncated": _nested_untruncated,
    "precision.crossed_in_one_factor": _crossed_in_one_factor,
    "precision.sd_against_1": _sd_against_1,
    "precision.repeatability_limit": precision.repeatability_limit,
    "trueness.recovery": trueness.recovery,
    "trueness.bias_of_pairs": _bias_of_pairs,
    "equivalence.tost_of_pairs": _tost_of_pairs,
    "equivalence.tost_two_means": equivalence.tost_two_means,
    "equivalence.variances": _variances,
    "variances.brown_forsythe": variances.brown_forsythe,
    "robust.median_mad": robust.median_mad,
    "robust.scaled_iqr": robust.scaled_iqr,
    "robust.algorithm_a": robust.algorithm_a,
    "robust.factors_of_algorithm_a": _factors_of_algorithm_a,
    "proficiency.z": proficiency.z,
    "proficiency.z_prime": proficiency.z_prime,
    "proficiency.zeta": proficiency.zeta,
    "proficiency.e_n": proficiency.e_n,
    "proficiency.signal": _signal,
    "proficiency.acceptable_percent": _acceptable_percent,
    "proficiency.consensus_of_evenly_spaced": _consensus_of_evenly_spaced,
    "proficiency.highest_mode": _highest_mode,
    "homogeneity.iupac_factors": _iupac_factors,
    "interlaboratory.mandel_h": _mandel_h,
    "interlaboratory.mandel_k": _mandel_k,
    "interlaboratory.accuracy_at_one_level": _accuracy_at_one_level,
    "interlaboratory.cells": _cells,
    "interlaboratory.variances_of_counts": _variances_of_counts,
    "interlaboratory.detection_across_laboratories": interlaboratory.detection_across_laboratories,
    "outliers.cochran": _cochran,
    "outliers.grubbs": _grubbs,
    "outliers.grubbs_pair": _grubbs_pair,
    "intervals.t_quantile": intervals.t_quantile,
    "intervals.chi2_quantile": intervals.chi2_quantile,
    "regression.line": regression.line,
    "regression.line_weighted_with_1_over_x": _line_weighted_with_1_over_x,
    "regression.lack_of_fit": regression.lack_of_fit,
    "regression.correlation": _correlation,
    "regression.half_widths": _half_widths,
    "regression.inverse_predict": _inverse_predict,
    "regression.mandel_fitting_test": regression.mandel_fitting_test,
    "regression.quadratic_against_line": regression.quadratic_against_line,
    "detection.method_detection_limit": detection.method_detection_limit,
    "detection.mdl_of_unit_scatter": _mdl_of_unit_scatter,
    "detection.blanks_of_unit_scatter": _blanks_of_unit_scatter,
    "detection.known_scatter": _known_scatter,
    "detection.noncentrality": detection.noncentrality,
    "detection.proportion": detection.proportion,
    "detection.score_limits_percent": _score_limits_percent,
    "detection.curve_over_log10_levels": _curve_over_log10_levels,
    "detection.ratio_of_95_to_50_percent": _ratio_of_95_to_50_percent,
    "comparison.agreement_as_printed_1986": _agreement_as_printed_1986,
    "comparison.repeats_about_0": _repeats_about_0,
    "detection.from_calibration": _from_calibration,
    "screening.cut_off_of_summary": _cut_off_of_summary,
    "screening.false_suspects_of_summaries": _false_suspects_of_summaries,
    "screening.false_negative_percent": _false_negative_percent,
    "uncertainty.top_down": uncertainty.top_down,
    "uncertainty.top_down_several": uncertainty.top_down_several,
    "uncertainty.expanded": uncertainty.expanded,
    "uncertainty.decision": uncertainty.decision,
    "uncertainty.guard_band": uncertainty.guard_band,
    "uncertainty.acceptance_limit": uncertainty.acceptance_limit,
    "uncertainty.default_uncertainty": uncertainty.default_uncertainty,
    "uncertainty.fitness_uncertainty": uncertainty.fitness_uncertainty,
    "design.replicates_for_recovery": design.replicates_for_recovery,
    "criteria.bound": catalogue.bound,
    "criteria.exceptional_bound": catalogue.exceptional_bound,
    "criteria.minimum_design": catalogue.minimum_design,
}
