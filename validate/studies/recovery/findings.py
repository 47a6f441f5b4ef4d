"""The figures that a recovery study can give, in the words of the dossier."""

from __future__ import annotations

from validate.studies.recovery.settings import HORRATS, MINIMUM_DAYS, MINIMUM_RESULTS
from validate.vocabulary.finding import FindingKind

HORRAT_FORMS = {
    "r-over-PRSD_R": "RSD_r / PRSD_R",
    "r-over-0.66-PRSD_R": "RSD_r / (0.66 · PRSD_R)",
    "r-over-half-PRSD_R": "RSD_r / (0.5 · PRSD_R)",
}
MODEL_WORDS = {
    "horwitz": "Horwitz, 2^(1 − 0.5·log₁₀ C)",
    "horwitz-aoac": "Horwitz, 2·C^−0.15",
    "thompson": "Thompson, piecewise",
}


def _per_level(name: str, title: str, symbol: str, unit: str, characteristic: str, **more: object) -> FindingKind:
    return FindingKind(name=name, title=title, symbol=symbol, unit=unit, characteristic=characteristic, per_level=True,
                       minimum_n=MINIMUM_RESULTS, **more)  # type: ignore[arg-type]  # fmt: skip


def _horrat(name: str) -> FindingKind:
    kind, model = HORRATS[name]
    title = f"HorRat, {HORRAT_FORMS[kind]}, {MODEL_WORDS[model]}"
    return _per_level(name, title, "HorRat", "", "repeatability", smaller_is_better=True, lower_bound_is_query=True)


FINDINGS = (
    _per_level("mean_recovery", "Mean recovery", "R̄", "%", "trueness"),
    _per_level("bias", "Bias of the mean", "b", "method", "trueness"),
    _per_level("bias_percent", "Bias of the mean in percent of the reference", "b_rel", "%", "trueness"),
    _per_level("s_r", "Repeatability standard deviation", "s_r", "method", "repeatability", smaller_is_better=True),
    _per_level("rsd_r", "Repeatability relative standard deviation", "RSD_r", "%", "repeatability",
               smaller_is_better=True),
    _per_level("s_intermediate", "Intermediate precision standard deviation", "s_I", "method", "intermediate_precision",
               smaller_is_better=True, minimum_groups=MINIMUM_DAYS),
    _per_level("rsd_intermediate", "Intermediate precision relative standard deviation", "RSD_I", "%",
               "intermediate_precision", smaller_is_better=True, minimum_groups=MINIMUM_DAYS),
    *map(_horrat, HORRATS),
)  # fmt: skip
