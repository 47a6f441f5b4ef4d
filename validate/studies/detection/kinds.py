"""The figures of a detection study, in the words of the dossier; all limits are contents, net of the blank."""

from __future__ import annotations

from validate.vocabulary.finding import FindingKind

LOD_FINDINGS = {
    "blanks": "lod_blanks",
    "low-level samples": "lod_low_level",
    "calibration": "lod_calibration",
    "MDL": "lod_mdl",
    "trials": "lod_trials",
    "POD": "lod_pod",
    "3 SD": "lod_3_sd",
    "3.3 SD": "lod_3.3_sd",
    "3 residual SD": "lod_3_residual_sd",
    "residual SD": "lod_residual_sd",
    "intercept SD": "lod_intercept_sd",
}
"""Approach as the protocol names it → finding that gives it."""
LOQ_FINDINGS = {
    "10 SD": "loq_10_sd",
    "residual SD": "loq_residual_sd",
    "intercept SD": "loq_intercept_sd",
    "criteria": "loq_criteria",
}


def _limit(name: str, title: str, symbol: str, characteristic: str = "limit_of_detection") -> FindingKind:
    return FindingKind(name=name, title=title, symbol=symbol, unit="method", characteristic=characteristic,
                       per_level=False, smaller_is_better=True)  # fmt: skip


def _loq(name: str, title: str) -> FindingKind:
    return _limit(name, title, "x_Q", "limit_of_quantification")


FINDINGS = (
    _limit("lod", "Limit of detection, claimed approach", "x_D"),
    _loq("loq", "Limit of quantification, claimed approach"),
    _limit("critical_value", "Critical value: the content above which a result is no blank", "x_C", ""),
    _limit("lod_blanks", "Limit of detection from blanks (5 % false positives, 5 % missed)", "x_D"),
    _limit("lod_low_level", "Limit of detection from low-level samples (5 %, 5 %)", "x_D"),
    _limit("lod_calibration", "Minimum detectable content from the calibration (5 %, 5 %)", "x_D"),
    _limit("lod_mdl", "Method detection limit (1 % false positives, nothing said of missed ones)", "MDL"),
    _limit("lod_trials", "Lowest level from which on at least 95 % were detected", "x_95"),
    _limit("lod_pod", "Level with 95 % probability of detection, from the fitted curve", "x_95"),
    _limit("lod_3_sd", "Shortcut 3 SD of blanks or low-level samples", "3 s"),
    _limit("lod_3.3_sd", "Shortcut 3.3 SD of blanks or low-level samples", "3.3 s"),
    _limit("lod_3_residual_sd", "Shortcut 3 residual SD of the calibration over slope", "3 s/b"),
    _limit("lod_residual_sd", "Shortcut 3.3 residual SD of the calibration over slope", "3.3 s/b"),
    _limit("lod_intercept_sd", "Shortcut 3.3 SD of intercepts over slope", "3.3 s/b"),
    _loq("loq_10_sd", "Shortcut 10 SD of blanks or low-level samples"),
    _loq("loq_residual_sd", "Shortcut 10 residual SD of the calibration over slope"),
    _loq("loq_intercept_sd", "Shortcut 10 SD of intercepts over slope"),
    _loq("loq_criteria", "Lowest level that meets the criteria on recovery and precision"),
    FindingKind(name="false_positive_rate", title="Blanks that counted as detected", symbol="FP", unit="%",
                characteristic="limit_of_detection", per_level=False, smaller_is_better=True),
    FindingKind(name="detection_rate", title="Samples that were detected", symbol="POD", unit="%",
                characteristic="limit_of_detection", per_level=True, smaller_is_better=False),
)  # fmt: skip

BY_NAME = {kind.name: kind for kind in FINDINGS}
