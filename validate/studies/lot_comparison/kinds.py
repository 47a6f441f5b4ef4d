"""The figures that a comparison can give, with the names that criteria use."""

from __future__ import annotations

from typing import Literal

from validate.vocabulary.finding import FindingKind

FactorName = Literal["lot", "analyst", "instrument", "site"]
PLURALS = {"lot": "lots", "analyst": "analysts", "instrument": "instruments", "site": "sites"}
AGREEMENT = "lot_equivalence"
"""Characteristic that the comparison of two lots covers; that of analysts, instruments or sites covers none."""


def _compared(prefix: str, new: str, current: str, characteristic: str) -> tuple[FindingKind, ...]:
    def kind(name: str, title: str, symbol: str, unit: str, *, per_level: bool) -> FindingKind:
        return FindingKind(
            name=f"{prefix}_{name}",
            title=title,
            symbol=symbol,
            unit=unit,
            characteristic=characteristic,
            per_level=per_level,
        )

    ratio, difference = f"{new} in % of {current}", f"{new} minus {current}"
    return (
        kind("ratio", f"Ratio of results, {ratio}", "Q", "%", per_level=True),
        kind("ratio_overall", f"Ratio of results over all levels, {ratio}", "Q", "%", per_level=False),
        kind("shift", f"Shift of results, {ratio}", "Q", "%", per_level=False),
        kind("difference", f"Mean difference of results, {difference}", "d", "method", per_level=True),
        kind("difference_overall", f"Mean difference over all levels, {difference}", "d", "method", per_level=False),
        kind("shift_difference", f"Shift of results, {difference}", "d", "method", per_level=False),
    )


def _beside(name: str, title: str, symbol: str, unit: str, *, smaller: bool | None = None) -> FindingKind:
    return FindingKind(
        name=name, title=title, symbol=symbol, unit=unit, characteristic="", per_level=False, smaller_is_better=smaller
    )


FINDINGS = (
    *_compared("lot", "the new lot", "the current lot", AGREEMENT),
    *_compared("new", "new", "current", ""),
    _beside("precision_ratio", "Repeatability standard deviation, new over current", "s_n/s_c", "", smaller=True),
    _beside("slope", "Slope of new against current", "b", ""),
    _beside("changed_decisions", "Share of samples on the other side of the decision limit", "p", "%", smaller=True),
    _beside("control_mean", "Control material, mean of the new results", "m_c", "method"),
    _beside("blank_highest", "Highest blank reading, new", "b_max", "method", smaller=True),
    _beside("column_recovery", "Recovery of standards passed through the column, new", "R_c", "%"),
    _beside("to_validation", "Ratio of the new lot to the validation lot, cumulated over lots", "Q_v", "%"),
    _beside("s_between_lots", "Standard deviation between lots", "s_L", "%", smaller=True),
    _beside("drift_per_lot", "Drift from lot to lot", "c", "%"),
)

BY_NAME = {kind.name: kind for kind in FINDINGS}
HISTORY = ("to_validation", "s_between_lots", "drift_per_lot")


def prefix_of(factor: str) -> str:
    """Findings of lots have names of their own: they alone show that lots agree."""
    return "lot" if factor == "lot" else "new"
