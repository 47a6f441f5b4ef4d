"""The figures that a precision study can give, with the names that criteria use."""

from __future__ import annotations

from typing import Literal

from validate.vocabulary.finding import FindingKind

MINIMUM_RESULTS = 5
MINIMUM_GROUPS = 5
"""Fewest results at a level and fewest groups for a verdict, where the criterion's source gives no number."""

HORRAT_KINDS = ("R", "r-over-PRSD_R", "r-over-0.66-PRSD_R", "r-over-half-PRSD_R")
HORRAT_MODELS = ("horwitz", "horwitz-aoac", "thompson")
HORRATS = {f"horrat_{kind}_{model}": (kind, model) for kind in HORRAT_KINDS for model in HORRAT_MODELS}
"""Name of the finding → form and model: a HorRat without both says nothing."""

SHOWN_HORRATS = (
    "horrat_R_horwitz",
    "horrat_r-over-PRSD_R_horwitz-aoac",
    "horrat_r-over-0.66-PRSD_R_horwitz",
    "horrat_r-over-half-PRSD_R_horwitz-aoac",
)
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


def _spread(
    name: str, title: str, symbol: str, unit: str, characteristic: str, *, groups: bool = True, **more: bool
) -> FindingKind:
    return FindingKind(
        name=name,
        title=title,
        symbol=symbol,
        unit=unit,
        characteristic=characteristic,
        per_level=True,
        smaller_is_better=True,
        minimum_n=MINIMUM_RESULTS,
        minimum_groups=MINIMUM_GROUPS if groups else None,
        **more,
    )


def _horrat(name: str) -> FindingKind:
    kind, model = HORRATS[name]
    return _spread(
        name,
        f"HorRat, {DIVISOR_WORDS[kind]}, {MODEL_WORDS[model]}",
        "HorRat",
        "",
        "reproducibility" if kind == "R" else "repeatability",
        groups=kind == "R",
        lower_bound_is_query=True,
    )


FINDINGS = (
    FindingKind(name="mean", title="General mean", symbol="m", unit="method", characteristic="", per_level=True),
    _spread("s_r", "Repeatability standard deviation", "s_r", "method", "repeatability", groups=False),
    _spread("rsd_r", "Repeatability relative standard deviation", "RSD_r", "%", "repeatability", groups=False),
    _spread("r", "Repeatability limit", "r", "method", "repeatability", groups=False),
    _spread("s_r_to_claim", "Repeatability standard deviation found, as a multiple of the claimed one", "s_r/σ_r", "",
            "repeatability", groups=False),
    _spread("s_between", "Standard deviation between groups", "s_b", "method", ""),
    _spread("s_intermediate", "Intermediate precision standard deviation", "s_I", "method", "intermediate_precision"),
    _spread("rsd_intermediate", "Intermediate precision relative standard deviation", "RSD_I", "%",
            "intermediate_precision"),
    _spread("s_reproducibility", "Reproducibility standard deviation", "s_R", "method", "reproducibility"),
    _spread("rsd_reproducibility", "Reproducibility relative standard deviation", "RSD_R", "%", "reproducibility"),
    _spread("R", "Reproducibility limit", "R", "method", "reproducibility"),
    _spread("s_total", "Total standard deviation, the material's own spread included", "s_t", "method", ""),
    _spread("rsd_total", "Total relative standard deviation, the material's own spread included", "RSD_t", "%", ""),
    *map(_horrat, HORRATS),
)  # fmt: skip

BY_NAME = {kind.name: kind for kind in FINDINGS}
