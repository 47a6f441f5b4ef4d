"""What is wrong, or worth telling, in the settings and the table of a recovery study."""

from __future__ import annotations

from collections.abc import Iterator

from validate.studies.contract import CheckInput
from validate.studies.recovery.checking_results import problems_of_table
from validate.studies.recovery.settings import (
    CERTIFIED,
    MINIMUM_DAYS,
    MINIMUM_RESULTS,
    ROUND,
    Native,
    RecoverySettings,
)
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)
SMALLEST_U_PERCENT = 0.05
FAR = 0.25
"""A reference value may differ from the name of its level by this share."""


def problems_of(job: CheckInput) -> Iterator[Problem]:
    """Problems of the settings first, then those of the table."""
    settings: RecoverySettings = job.settings  # type: ignore[assignment]
    for part in (_levels, _design, _native, _correction, _reference):
        yield from part(job, settings)
    if job.table is not None:
        yield from problems_of_table(job, settings, PROBLEMS)


def _levels(job: CheckInput, settings: RecoverySettings) -> Iterator[Problem]:
    for number, level in enumerate(settings.design.levels):
        if float(level) <= 0:
            yield PROBLEMS.problem("recovery-level-not-positive", job.place("design", "levels", number), level=level)


def _design(job: CheckInput, settings: RecoverySettings) -> Iterator[Problem]:
    design, accept = settings.design, settings.accept
    planned = design.replicates * (design.days or 1)
    if accept and planned < MINIMUM_RESULTS:
        place = job.place("design", "replicates")
        yield PROBLEMS.problem("recovery-too-few-replicates-planned", place, planned=planned, needed=MINIMUM_RESULTS)
    wants_repeatability = any(name in ("s_r", "rsd_r") or name.startswith("horrat") for name in accept)
    if wants_repeatability and design.replicates == 1 and design.days:
        yield PROBLEMS.problem("recovery-one-replicate", job.place("design", "replicates"))
    wants_intermediate = {"s_intermediate", "rsd_intermediate"} & set(accept)
    if wants_intermediate and (design.days or 0) < MINIMUM_DAYS:
        place = job.place("design", "days")
        yield PROBLEMS.problem("recovery-too-few-days-planned", place, planned=design.days or "no", needed=MINIMUM_DAYS)


def _native(job: CheckInput, settings: RecoverySettings) -> Iterator[Problem]:
    native = settings.native
    if native is None:
        return
    if not _is_clear(native):
        yield PROBLEMS.problem("recovery-native-unclear", job.place("native"))
    for key in ("value", "u", "s"):
        value = getattr(native, key)
        if value is not None and value < 0:
            yield PROBLEMS.problem("recovery-native-negative", job.place("native", key), key=key, value=f"{value:g}")
    for number, level in enumerate(settings.design.levels):
        if native.value is not None and native.value > float(level) > 0:
            place, unit = job.place("design", "levels", number), job.method.unit
            yield PROBLEMS.problem(
                "recovery-native-exceeds-level", place, native=f"{native.value:g}", level=level, unit=unit
            )


def _is_clear(native: Native) -> bool:
    if native.from_ is not None:
        return native.value is None and native.u is None and native.s is None and native.n is None
    by_u = native.u is not None and native.s is None and native.n is None
    by_s = native.u is None and native.s is not None and native.n is not None and native.n >= 2
    return native.value is not None and (by_u or by_s)


def _correction(job: CheckInput, settings: RecoverySettings) -> Iterator[Problem]:
    corrected = settings.corrected_for_recovery
    if corrected and settings.correction is None:
        yield PROBLEMS.problem("recovery-correction-missing", job.place("corrected_for_recovery"))
    if not corrected and settings.correction is not None:
        yield PROBLEMS.problem("recovery-correction-unused", job.place("correction"))
    u, place = settings.relative_u_of_added_percent, job.place("relative_u_of_added_percent")
    if not 0 <= u < 100:
        yield PROBLEMS.problem("recovery-u-added", place, value=f"{u:g}")
    elif 0 < u < SMALLEST_U_PERCENT:
        yield PROBLEMS.problem("recovery-u-added-fraction", place, value=f"{u:g}")


def _reference(job: CheckInput, settings: RecoverySettings) -> Iterator[Problem]:
    levels, unit = settings.design.levels, job.method.unit
    for level, name in settings.reference.items():
        place, material = job.place("reference", level), job.materials.get(name)
        if level not in levels:
            yield PROBLEMS.problem("recovery-reference-level", place, level=level, declared=", ".join(levels))
        if material is None or material.value <= 0:
            yield PROBLEMS.problem("recovery-reference-unknown", place, material=name, unit=unit)
        elif abs(material.value - float(level)) > FAR * material.value:
            yield PROBLEMS.problem(
                "recovery-reference-far-from-level",
                place,
                material=name,
                value=f"{material.value:g}",
                unit=unit,
                level=level,
            )
    if settings.contamination in (CERTIFIED, ROUND):
        for number, level in enumerate(levels):
            if level not in settings.reference:
                place = job.place("design", "levels", number)
                yield PROBLEMS.problem(
                    "recovery-reference-missing", place, level=level, contamination=settings.contamination
                )
