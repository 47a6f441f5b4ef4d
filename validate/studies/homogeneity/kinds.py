"""The figures that a study of homogeneity and stability can give, with the names that criteria use."""

from __future__ import annotations

from validate.vocabulary.finding import FindingKind

FEWEST_UNITS = 10
"""ISO 13528 and the IUPAC Harmonized Protocol ask for ten units or more (from memory)."""
SHARE = 0.3
"""Bound on the between-unit standard deviation and on the change, as a share of σ_pt."""


def _kind(name: str, title: str, symbol: str, unit: str, characteristic: str = "", **more: object) -> FindingKind:
    return FindingKind(
        name=name, title=title, symbol=symbol, unit=unit, characteristic=characteristic, per_level=False, **more
    )  # type: ignore[arg-type]


FINDINGS = (
    _kind("mean", "General mean of the units", "x̄", "method"),
    _kind("s_an", "Standard deviation of the measurement within units", "s_an", "method", smaller_is_better=True),
    _kind("s_sam", "Standard deviation between units", "s_sam", "method", smaller_is_better=True),
    _kind("s_sam_share", "Standard deviation between units as a share of σ_pt", "s_sam/σ_pt", "",
          smaller_is_better=True, minimum_groups=FEWEST_UNITS),
    _kind("s_an_share", "Standard deviation of the measurement as a share of σ_pt", "s_an/σ_pt", "",
          smaller_is_better=True),
    _kind("sigma_widened", "Standard deviation for scores that allows for unlike units", "σ′", "method"),
    _kind("u_hom", "Standard uncertainty from unlike units", "u_hom", "method", smaller_is_better=True),
    _kind("filling_trend", "Change of the unit means over the filling order", "b·Δ", "method"),
    _kind("stability_change", "Change of the material with time", "Δ", "method", "stability"),
    _kind("stability_share", "Change of the material with time as a share of σ_pt", "Δ/σ_pt", "", "stability"),
    _kind("u_stab", "Standard uncertainty of the change with time", "u_stab", "method", smaller_is_better=True),
)  # fmt: skip

BY_NAME = {kind.name: kind for kind in FINDINGS}
OF_STABILITY = ("stability_change", "stability_share", "u_stab")
