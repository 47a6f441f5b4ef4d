"""The figures that a proficiency round can give, with the names that criteria use. The level is the target."""

from __future__ import annotations

from validate.vocabulary.finding import FindingKind


def _kind(name: str, title: str, symbol: str, unit: str, smaller_is_better: bool | None = None) -> FindingKind:
    return FindingKind(
        name=name,
        title=title,
        symbol=symbol,
        unit=unit,
        characteristic="",
        per_level=True,
        smaller_is_better=smaller_is_better,
    )


FINDINGS = (
    _kind("assigned_value", "Assigned value", "x_pt", "method"),
    _kind("u_assigned", "Standard uncertainty of the assigned value", "u(x_pt)", "method", True),
    _kind("sigma_pt", "Standard deviation for the scores", "σ_pt", "method"),
    _kind("u_ratio", "Uncertainty of the assigned value as a share of σ_pt", "u(x_pt)/σ_pt", "", True),
    _kind("robust_sd", "Robust standard deviation of the results (algorithm A)", "s*", "method"),
    _kind("acceptable_share", "Laboratories whose score is acceptable", "share", "%", False),
)
