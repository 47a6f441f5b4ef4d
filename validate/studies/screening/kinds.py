"""The figures that a screening study can give, in the words of the dossier."""

from __future__ import annotations

from typing import Any

from validate.studies.screening.settings import FEWEST_COUNTED, FEWEST_FOR_A_RATE
from validate.vocabulary.finding import FindingKind

PERFORMANCE = "screening_performance"


def _kind(name: str, title: str, symbol: str, unit: str, *, better: bool | None = None, **more: Any) -> FindingKind:
    return FindingKind(name=name, title=title, symbol=symbol, unit=unit, characteristic=PERFORMANCE,
                       per_level=more.pop("per_level", False), smaller_is_better=better, **more)  # fmt: skip


FINDINGS = (
    _kind("cut_off", "Cut-off: a reading beyond it makes a sample suspect", "c", "method"),
    _kind("cut_off_signal", "Cut-off: a signal beyond it makes a sample suspect", "c", ""),
    _kind("missed_by_cut_off", "Samples at the target that such a cut-off misses, by its formula", "FN_c", "%",
          better=True, minimum_n=FEWEST_FOR_A_RATE),
    _kind("false_suspect_rate", "Negative samples that are suspect, by the formula", "FS", "%", better=True,
          minimum_n=FEWEST_FOR_A_RATE),
    _kind("false_negative_rate", "Samples at the target that were missed, as counted", "FN", "%", better=True,
          minimum_n=FEWEST_COUNTED),
    _kind("false_positive_rate", "Negative samples that were suspect, as counted", "FP", "%", better=True,
          minimum_n=FEWEST_COUNTED),
    _kind("negative_content", "Largest content of a negative sample, share of the target", "x_0/x_T", "%",
          better=True),
    _kind("detection_rate", "Samples that were suspect", "POD", "%", better=False, per_level=True,
          minimum_n=FEWEST_COUNTED),
    _kind("level_50", "Level at which half of the samples are suspect, from the curve", "x_50", "method", better=True),
    _kind("level_95", "Level at which 95 % of the samples are suspect, from the curve", "x_95", "method", better=True),
    _kind("classified_alike", "Samples that test and reference method sort alike", "A", "%", better=False,
          minimum_n=FEWEST_COUNTED),
    _kind("alike_above", "Share of the samples at or above the target that were suspect", "A_a", "%", better=False,
          minimum_n=FEWEST_COUNTED),
    _kind("alike_below", "Share of the samples below the target that were not suspect", "A_b", "%", better=False,
          minimum_n=FEWEST_COUNTED),
)  # fmt: skip
AGREEMENT = ("classified_alike", "alike_above", "alike_below")
