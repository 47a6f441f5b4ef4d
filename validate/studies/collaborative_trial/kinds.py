"""The figures that a collaborative trial can give, with the names that criteria use."""

from __future__ import annotations

from typing import Literal

from validate.vocabulary.finding import FindingKind

MINIMUM_RESULTS = 5
MINIMUM_LABORATORIES = 8
"""IUPAC (1995) asks for eight laboratories with valid results (from memory)."""

HORRAT_KINDS = ("R", "r-over-PRSD_R", "r-over-0.66-PRSD_R", "r-over-half-PRSD_R")
HORRAT_MODELS = ("horwitz", "horwitz-aoac", "thompson")
HORRATS = {f"horrat_{kind}_{model}": (kind, model) for kind in HORRAT_KINDS for model in HORRAT_MODELS}
"""Name of the finding → form and model: a HorRat without both says nothing."""
SHOWN_HORRATS = ("horrat_R_horwitz", "horrat_R_thompson", "horrat_r-over-PRSD_R_horwitz-aoac")
HorratName = Literal[tuple(HORRATS)]  # type: ignore[valid-type]

DIVISOR_WORDS = {
    "R": "RSD_R / PRSD_R",
    "r-over-PRSD_R": "RSD_r / PRSD_R",
    "r-over-0.66-PRSD_R": "RSD_r / (0.66 · PRSD_R)",
    "r-over-half-PRSD_R": "RSD_r / (0.5 · PRSD_R)",
}
MODEL_WORDS = {
    "horwitz": "Horwitz, 2^(1 − 0.5·log₁₀ C)",
    "horwitz-aoac": "Horwitz, 2·C^−0.15",
    "thompson": "Thompson, piecewise",
}
RELATIVE = {"s_r": "rsd_r", "s_intermediate": "rsd_intermediate", "s_reproducibility": "rsd_reproducibility"}
"""Standard deviation → its relative form."""


def _spread(name: str, title: str, symbol: str, unit: str, characteristic: str, **more: object) -> FindingKind:
    return FindingKind(
        name=name,
        title=title,
        symbol=symbol,
        unit=unit,
        characteristic=characteristic,
        per_level=True,
        smaller_is_better=True,
        minimum_n=MINIMUM_RESULTS,
        **more,  # type: ignore[arg-type]
    )


def _across(name: str, title: str, symbol: str, unit: str, characteristic: str, **more: object) -> FindingKind:
    return _spread(name, title, symbol, unit, characteristic, minimum_groups=MINIMUM_LABORATORIES, **more)


def _horrat(name: str) -> FindingKind:
    kind, model = HORRATS[name]
    title = f"HorRat, {DIVISOR_WORDS[kind]}, {MODEL_WORDS[model]}"
    made, characteristic = (_across, "reproducibility") if kind == "R" else (_spread, "repeatability")
    return made(name, title, "HorRat", "", characteristic, lower_bound_is_query=True)


FINDINGS = (
    FindingKind(name="mean", title="General mean", symbol="m", unit="method", characteristic="", per_level=True),
    _spread("s_r", "Repeatability standard deviation", "s_r", "method", "repeatability"),
    _spread("rsd_r", "Repeatability relative standard deviation", "RSD_r", "%", "repeatability"),
    _spread("r", "Repeatability limit", "r", "method", "repeatability"),
    _spread("s_intermediate", "Standard deviation within a laboratory, its runs included", "s_I", "method", ""),
    _spread("rsd_intermediate", "Relative standard deviation within a laboratory, its runs included", "RSD_I", "%", ""),
    _spread("s_L", "Standard deviation between laboratories", "s_L", "method", ""),
    _across("s_reproducibility", "Reproducibility standard deviation", "s_R", "method", "reproducibility"),
    _across("rsd_reproducibility", "Reproducibility relative standard deviation", "RSD_R", "%", "reproducibility"),
    _across("R", "Reproducibility limit", "R", "method", "reproducibility"),
    *map(_horrat, HORRATS),
    FindingKind(name="lpod", title="Probability of detection across laboratories", symbol="LPOD", unit="",
                characteristic="", per_level=True),
    _spread("pod_s_r", "Repeatability standard deviation of binary results", "s_r", "", ""),
    _spread("pod_s_L", "Standard deviation of binary results between laboratories", "s_L", "", ""),
    _across("pod_s_R", "Reproducibility standard deviation of binary results", "s_R", "", ""),
)  # fmt: skip

BY_NAME = {kind.name: kind for kind in FINDINGS}
OF_COUNTS = ("lpod", "pod_s_r", "pod_s_L", "pod_s_R")
