"""Samples counted as detected or not: rates by level, the curve over the levels, the evidence for a claim."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from validate.stats.detection import DetectionCurve, probability_of_detection, proportion
from validate.studies.contract import ALPHA
from validate.studies.detection.approaches import Approach, Bench, missing, symbol
from validate.studies.detection.samples import Group
from validate.vocabulary.finding import DetectionEvidence, Finding, Interval, Trials, Working
from validate.vocabulary.limits import share_limits

CLOPPER_PEARSON = (
    "exact limits of a proportion, C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404-413 (from memory)"
)
CURVE_SOURCE = "P. McCullagh, J. A. Nelder, Generalized Linear Models, chapter 4 (from memory)"
RATE_FORMULA = "100·detected/n"
LOWEST_FORMULA = "lowest level from which on at least 95 % of the samples were detected"
CURVE_FORMULA = "(−ln 0.05/e^a)^(1/b), from p = 1 − exp(−e^a·x^b)"
NEEDED, ALLOWED = 0.95, 0.05
FEWEST_LEVELS = 2


@dataclass(frozen=True)
class Decision:
    """When a sample counts as detected: above (or, for a falling response, below) this response."""

    at: float | None
    words: str
    reason: str | None = None


@dataclass(frozen=True)
class Counted:
    """Samples of one level and how many of them were detected."""

    group: Group
    n: int
    detected: int


@dataclass(frozen=True)
class TrialResults:
    """Blanks and levels as counted; `reason` says why nothing could be counted."""

    decision: Decision
    blanks: Counted | None
    levels: tuple[Counted, ...]
    curve: DetectionCurve | None
    no_curve: str
    reason: str | None = None


def count(bench: Bench, critical: float | None) -> TrialResults:
    """Count every level by what the test said, by the declared decision limit, or by the critical value found."""
    groups = [group for group in bench.samples.groups if group.tried]
    decision = _decision(bench, critical, groups)
    if decision.reason is not None:
        return TrialResults(decision, None, (), None, decision.reason, decision.reason)
    counted = [Counted(group, group.tried, _detected(bench, group, decision)) for group in groups]
    blanks = next((each for each in counted if each.group.level == "0"), None)
    levels = tuple(each for each in counted if each.group.level != "0")
    curve, why = _curve(levels)
    return TrialResults(decision, blanks, levels, curve, why)


def evidence(bench: Bench, found: TrialResults) -> DetectionEvidence:
    """What the judge holds a claimed limit against."""
    return DetectionEvidence(
        blanks=found.blanks.n if found.blanks else 0,
        false_positives=found.blanks.detected if found.blanks else 0,
        trials=tuple(
            Trials(
                level=each.group.level,
                n=each.n,
                detected=each.detected,
                low=proportion(each.detected, each.n, level=1 - 2 * ALPHA).low,
                high=proportion(each.detected, each.n, level=bench.job.not_met_level).high,
            )
            for each in found.levels
        ),
    )


def rate_findings(bench: Bench, found: TrialResults) -> tuple[Finding, ...]:
    """`false_positive_rate`, and `detection_rate` for every declared level."""
    by_level = {each.group.level: each for each in found.levels}
    rates = [_rate(bench, "false_positive_rate", None, found.blanks, found.reason or "no blanks were measured")]
    for group in bench.samples.spikes:
        reason = found.reason or "no sample at this level"
        rates.append(_rate(bench, "detection_rate", group.level, by_level.get(group.level), reason))
    return tuple(rates)


def trial_approaches(bench: Bench, found: TrialResults) -> tuple[Approach, ...]:
    """The lowest level detected often enough, and the level that the fitted curve gives."""
    return _lowest(bench, found), _by_curve(bench, found)


def _decision(bench: Bench, critical: float | None, groups: list[Group]) -> Decision:
    if groups and all(group.said is not None for group in groups):
        return Decision(None, "as the test itself said (column `detected`)")
    declared, unit = bench.settings.decision_limit, bench.samples.unit
    side = "below" if bench.samples.sensitivity.sign < 0 else "above"
    if declared is not None:
        return Decision(declared, f"reading {side} {declared:g} {unit}, the limit that the protocol declares")
    if critical is None:
        return Decision(None, "", "no critical value was found and the protocol declares no `decision_limit`")
    return Decision(critical, f"reading {side} the critical value found, {critical:.4g} {unit}")


def _detected(bench: Bench, group: Group, decision: Decision) -> int:
    """Censored readings were not detected: there was no number to exceed the limit."""
    if decision.at is None:
        return sum(group.said or ())
    sign = bench.samples.sensitivity.sign
    return int(np.count_nonzero(sign * (group.values - decision.at) > 0))


def _curve(levels: tuple[Counted, ...]) -> tuple[DetectionCurve | None, str]:
    if len(levels) < FEWEST_LEVELS:
        return None, f"{len(levels)} spiked level{'' if len(levels) == 1 else 's'}: at least {FEWEST_LEVELS} needed"
    x, n, detected = ([float(each.group.level) for each in levels], [e.n for e in levels], [e.detected for e in levels])
    curve = probability_of_detection(x, n, detected, model="cloglog")
    return (None, curve.reason or "") if curve.level_95 is None else (curve, "")


def _lowest(bench: Bench, found: TrialResults) -> Approach:
    name, words = "lod_trials", "95 % detected, 5 % false positives, as counted"
    reason = found.reason or _why_no_lowest(found)
    if reason is not None:
        return Approach(missing(name, reason, bench, formula=LOWEST_FORMULA, source=CLOPPER_PEARSON), "", words)
    lowest = _lowest_level(found.levels)
    value = float(lowest.group.level)
    finding = Finding(
        name=name,
        level=None,
        value=value,
        unit=bench.unit,
        n=lowest.n,
        groups=lowest.group.days,
        formula=LOWEST_FORMULA,
        source=CLOPPER_PEARSON,
        working=Working(
            expression="{level}",
            symbols=(
                symbol("level", "x", f"{lowest.detected} of {lowest.n} samples were detected", value, bench.unit),
            ),
        ),
        rows=lowest.group.rows,
        notes=("the lowest level tried: the limit may lie below",) if lowest is found.levels[0] else (),
    )
    return Approach(finding, "", words)


def _why_no_lowest(found: TrialResults) -> str | None:
    if found.blanks is None:
        return "no blanks were measured"
    if found.blanks.detected > ALLOWED * found.blanks.n:
        return f"{found.blanks.detected} of {found.blanks.n} blanks counted as detected, more than 5 %"
    if not found.levels:
        return "no spiked samples were measured"
    return None if _lowest_level(found.levels) else "at the highest level less than 95 % were detected"


def _lowest_level(levels: tuple[Counted, ...]) -> Counted | None:
    lowest = None
    for each in reversed(levels):
        if each.detected < NEEDED * each.n - 1e-9:
            break
        lowest = each
    return lowest


def _by_curve(bench: Bench, found: TrialResults) -> Approach:
    name, words = "lod_pod", "95 % detected, by the fitted curve"
    if found.curve is None:
        reason = found.reason or found.no_curve
        return Approach(missing(name, reason, bench, formula=CURVE_FORMULA, source=CURVE_SOURCE), "", words)
    curve, x, n, detected = (
        found.curve,
        [float(each.group.level) for each in found.levels],
        [each.n for each in found.levels],
        [each.detected for each in found.levels],
    )
    intervals = []
    for use, level in (("shown", 0.95), ("met", 1 - 2 * ALPHA), ("not_met", bench.job.not_met_level)):
        at = probability_of_detection(x, n, detected, model="cloglog", confidence_level=level).level_95
        intervals.append(Interval(use=use, level=level, low=at.low, high=at.high, method="profile likelihood"))  # type: ignore[arg-type]
    finding = Finding(
        name=name,
        level=None,
        value=curve.level_95.value,
        unit=bench.unit,
        blocked=("the level lies outside those that were tried",) if curve.level_95.extrapolated else (),
        intervals=tuple(intervals),
        n=sum(n),
        formula=CURVE_FORMULA,
        source=CURVE_SOURCE,
        working=Working(
            expression="({target} / {rate})^(1 / {slope})",
            symbols=(
                symbol("target", "−ln 0.05", "so that 95 % are detected", float(-np.log(0.05))),
                symbol("rate", "e^a", "fitted rate at level 1", float(np.exp(curve.intercept))),
                symbol("slope", "b", "fitted slope over ln level", curve.slope),
            ),
        ),
        rows=tuple(rows for each in found.levels for rows in each.group.rows),
    )
    return Approach(finding, "", words)


def _rate(bench: Bench, name: str, level: str | None, counted: Counted | None, reason: str) -> Finding:
    if counted is None:
        return replace(missing(name, reason, bench, formula=RATE_FORMULA, source=CLOPPER_PEARSON), level=level)
    x = symbol("x", "x", "samples that counted as detected", counted.detected)
    n = symbol("n", "n", "samples", counted.n)
    intervals = []
    for use, confidence in (("shown", 0.95), ("met", 1 - 2 * ALPHA), ("not_met", bench.job.not_met_level)):
        limits = proportion(counted.detected, counted.n, level=confidence)
        intervals.append(
            Interval(
                use=use,  # type: ignore[arg-type]
                level=confidence,
                low=100 * limits.low,
                high=100 * limits.high,
                method="Clopper-Pearson",
                working=share_limits(x, n, limits.rests_on) if use == "shown" else None,
            )
        )
    return Finding(
        name=name,
        level=level,
        value=100 * counted.detected / counted.n,
        unit="%",
        intervals=tuple(intervals),
        n=counted.n,
        groups=counted.group.days,
        formula=RATE_FORMULA,
        source=CLOPPER_PEARSON,
        working=Working(expression="100 · {x} / {n}", symbols=(x, n)),
        rows=counted.group.rows,
    )
