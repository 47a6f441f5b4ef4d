"""The figures that a method comparison can give, in the words of the dossier."""

from __future__ import annotations

from typing import Any

from validate.studies.method_comparison.settings import FEWEST, RATIO, MethodComparisonSettings
from validate.vocabulary.finding import FindingKind

AGREEMENT = "method_agreement"


def _kind(name: str, title: str, symbol: str, unit: str, *, per_level: bool = False, **more: Any) -> FindingKind:
    return FindingKind(name=name, title=title, symbol=symbol, unit=unit, characteristic=AGREEMENT, per_level=per_level,
                       minimum_n=FEWEST, **more)  # fmt: skip


FINDINGS = (
    _kind("method_bias_percent", "Bias against the reference method, relative", "B", "%", per_level=True),
    _kind("method_bias", "Bias against the reference method", "B_c", "method", per_level=True),
    _kind("slope", "Slope of the line between the methods", "b", ""),
    _kind("intercept", "Intercept of the line between the methods", "a", "method"),
    _kind("mean_difference", "Mean difference from the reference method", "d̄", "method"),
    _kind("agreement_lower", "Lower limit of agreement", "d_low", "method"),
    _kind("agreement_upper", "Upper limit of agreement", "d_high", "method"),
    _kind("mean_ratio", "Mean ratio to the reference method", "q", ""),
    _kind("ratio_lower", "Lower limit of agreement of the ratio", "q_low", ""),
    _kind("ratio_upper", "Upper limit of agreement of the ratio", "q_high", ""),
    _kind("classified_alike", "Samples on the same side of the limit by both methods", "A", "%"),
    _kind("alike_above", "Share of the samples above the limit that are found above", "A_+", "%"),
    _kind("alike_not_above", "Share of the other samples that are found not above", "A_−", "%"),
)
LINE = ("slope", "intercept")
DIFFERENCES = ("mean_difference", "agreement_lower", "agreement_upper")
RATIOS = ("mean_ratio", "ratio_lower", "ratio_upper")
CLASSES = ("classified_alike", "alike_above", "alike_not_above")


def agreement_names(settings: MethodComparisonSettings) -> tuple[str, str, str]:
    """The figures of the form that the protocol declares: middle, lower, upper."""
    return RATIOS if settings.differences == RATIO else DIFFERENCES
