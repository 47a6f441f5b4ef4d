"""Precision and bias at a level, taken from the findings of other studies; nothing is found here, only chosen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import hypot, inf

from validate.stats.uncertainty import level_model
from validate.studies.contract import NeededFinding, StudyInput
from validate.studies.uncertainty.settings import MINIMUM_GROUPS, REACH, UncertaintySettings
from validate.vocabulary.finding import Rows

FEWEST_LEVELS = 2


@dataclass(frozen=True)
class Source:
    """One figure for one level: `value` and, for a bias, its standard error `u`; in the method's unit (recovery: %)."""

    study: str
    value: float
    u: float
    df: float
    groups: int | None
    words: str
    rows: tuple[Rows, ...]
    blocked: tuple[str, ...]


def settings_of(job: StudyInput) -> UncertaintySettings:
    return job.settings  # type: ignore[return-value]


def precision_at(job: StudyInput, level: str) -> Source | str:
    """s_Rw at a level, the least favourable where several studies give it, or why there is none."""
    declared, x = settings_of(job).precision, float(level)
    if declared.relative_percent is not None:
        s, days = declared.relative_percent * x / 100, declared.occasions
        words = f"{declared.relative_percent:g} % over {days} occasions: {declared.origin}"
        return Source("the protocol", s, 0.0, days - 1, days, words, (), ())
    found = [*_measured_at(job, level), *_one_material(job, x)] or list(_between_levels(job, x))
    if not found:
        return f"no study of this protocol gives an intermediate precision at {level} {job.method.unit}"
    return max(found, key=lambda source: source.value)


def bias_at(job: StudyInput, level: str) -> Source | str:
    """The bias at a level with its standard error, the least favourable where several studies give it."""
    declared = _declared_recovery(job)
    if declared is not None:
        share = float(level) / 100
        return replace(declared, value=share * (declared.value - 100), u=share * declared.u)
    found = [
        _source(each, f"bias of {each.study} at level {level}", each.finding.value, _standard_error(each))
        for each in _needed(job, "bias", settings_of(job).bias.study)
        if each.finding.level == level and _standard_error(each) is not None
    ]
    if not found:
        return f"no study of this protocol gives a bias at {level} {job.method.unit}"
    return max(found, key=lambda source: hypot(source.value, source.u))


def recovery_at(job: StudyInput, level: str) -> Source | str:
    """The mean recovery in percent at a level with its standard error: the least certain where several give it."""
    declared = _declared_recovery(job)
    if declared is not None:
        return declared
    found = [
        _source(each, f"mean recovery of {each.study} at level {level}", each.finding.value, _standard_error(each))
        for each in _needed(job, "mean_recovery", settings_of(job).bias.study)
        if each.finding.level == level and _standard_error(each) is not None and each.finding.value > 0
    ]
    if not found:
        return f"no study of this protocol gives a mean recovery at {level} {job.method.unit}"
    return max(found, key=lambda source: source.u / source.value)


def relative_biases(job: StudyInput) -> tuple[tuple[NeededFinding, float], ...] | str:
    """The relative bias in percent at every level of the study or studies, from their mean recoveries."""
    needed = _needed(job, "mean_recovery", settings_of(job).bias.study)
    found = tuple((each, each.finding.value - 100) for each in needed if each.finding.level is not None)
    if len(found) < FEWEST_LEVELS:
        return f"{len(found)} levels with a mean recovery found, at least {FEWEST_LEVELS} needed"
    return found


def _declared_recovery(job: StudyInput) -> Source | None:
    """The recovery in percent that the protocol takes from elsewhere."""
    bias = settings_of(job).bias
    if bias.recovery_percent is None:
        return None
    words = f"mean recovery {bias.recovery_percent:g} %, {bias.origin}"
    return Source("the protocol", bias.recovery_percent, bias.standard_error_percent, inf, None, words, (), ())


def _needed(job: StudyInput, name: str, study: str | None) -> list[NeededFinding]:
    return [
        each
        for each in job.needed
        if each.finding.name == name and each.finding.value is not None and study in (None, each.study)
    ]


def _measured_at(job: StudyInput, level: str) -> Iterator[Source]:
    for name in ("s_intermediate", "s_long_term"):
        for each in _precise(job, name):
            if each.finding.level == level:
                yield _source(each, f"{each.words} of {each.study} at level {level}", each.finding.value, 0.0)


def _precise(job: StudyInput, name: str) -> list[NeededFinding]:
    """Standard deviations over time; a long-term one only with enough lots behind it to be known."""
    found = _needed(job, name, settings_of(job).precision.study)
    return [each for each in found if "long_term" not in name or (each.finding.groups or 0) >= MINIMUM_GROUPS]


def _one_material(job: StudyInput, x: float) -> Iterator[Source]:
    """A study of one material gives a relative SD, used for contents near that of the material."""
    study = settings_of(job).precision.study
    means = {each.study: each.finding.value for each in _needed(job, "mean", study) if each.finding.level is None}
    for each in (*_precise(job, "rsd_intermediate"), *_precise(job, "rsd_long_term")):
        mean = means.get(each.study)
        if each.finding.level is None and mean is not None and mean / REACH <= x <= mean * REACH:
            relative, unit = each.finding.value, job.method.unit
            words = f"{each.words} of {each.study}, {relative:.3g} %, found at {mean:.3g} {unit}"
            yield _source(each, words, relative * x / 100, 0.0)


def _between_levels(job: StudyInput, x: float) -> Iterator[Source]:
    """Between levels of a study: u² = absolute² + (relative·x)² through its levels; never beyond them."""
    needed = [each for each in _needed(job, "s_intermediate", settings_of(job).precision.study) if each.finding.level]
    for study in dict.fromkeys(each.study for each in needed):
        own = [each for each in needed if each.study == study and each.finding.value > 0]
        levels = [float(each.finding.level) for each in own]
        if len(set(levels)) < FEWEST_LEVELS or not min(levels) <= x <= max(levels):
            continue
        model = level_model(levels, [each.finding.value for each in own])
        poorest = min(own, key=lambda each: each.finding.df or inf)
        form = f"√({model.absolute:.3g}² + ({model.relative_percent:.3g} % of the content)²)"
        words = f"between the levels of {study}: {form}"
        yield _source(poorest, words, float(model.at(x)), 0.0)


def _source(each: NeededFinding, words: str, value: float, u: float | None) -> Source:
    finding = each.finding
    df = inf if finding.df is None else finding.df
    return Source(each.study, value, u or 0.0, df, finding.groups, words, finding.rows, finding.blocked)


def _standard_error(each: NeededFinding) -> float | None:
    return None if each.finding.sampling is None else each.finding.sampling.se
