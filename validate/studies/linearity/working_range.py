"""The working range: the widest range of consecutive levels in which the declared criteria hold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations_with_replacement

import numpy as np

from validate.stats.intervals import Limits
from validate.studies.contract import ALPHA, StudyInput
from validate.studies.linearity.calibration import Calibration
from validate.studies.linearity.deviations import Bend, Deviation, bend_of, deviations_of
from validate.studies.linearity.settings import FEWEST_LEVELS, LinearitySettings
from validate.vocabulary.finding import Finding, Symbol, Working
from validate.vocabulary.verdict import Verdict

MOST_READINGS = 200_000
"""Readings that are fitted in the search for a working range."""
ROUGH = 1e-6
"""Slack, in percent and relative, of the quick look at estimates; the full comparison follows."""
SLACK = 1e-9
"""Relative slack of a comparison with a bound, as for verdicts."""
FORMULA = (
    "the widest range of consecutive levels in which the declared bounds on the deviation hold at every level, "
    "the line being fitted to these levels, and in which no verdict of another study stands against it"
)
SOURCE = "common practice, no source"


@dataclass(frozen=True)
class Rule:
    """A bound of the protocol on deviations, and what it is held against."""

    finding: str
    low: float
    high: float
    by_interval: bool
    levels: tuple[str, ...] | None

    def allows(self, percent: float, limits: Limits) -> bool:
        low, high = (limits.low, limits.high) if self.by_interval else (percent, percent)
        return low >= self.low - SLACK * abs(self.low) and high <= self.high + SLACK * abs(self.high)


@dataclass(frozen=True)
class WorkingRange:
    """From one measured level to another; `barred`: levels where another study's criterion is not met."""

    low: float | None
    high: float | None
    reason: str
    barred: tuple[str, ...]


def working_range(calibration: Calibration, deviations: tuple[Deviation, ...], bend: Bend | str) -> WorkingRange:
    """Every range of at least five measured levels is tried, the widest first.

    `deviations` and `bend` are those of the whole calibration.
    """
    rules, barred = rules_of(calibration.settings), _barred(calibration.job)
    words = _barred_words(barred)
    if not rules:
        return WorkingRange(None, None, "no bound on the deviation is declared in this protocol", words)
    search = _Search(calibration, rules, deviations, bend)
    straight = search.widest([])
    if straight is None:
        return WorkingRange(None, None, search.why_none, words)
    found = search.widest([x for x, _ in barred]) if barred else straight
    if found is None and search.is_stopped:
        return WorkingRange(None, None, search.why_none, words)
    if found is None:
        low, high = straight
        alone = f"the line alone holds from {low:g} to {high:g} {calibration.job.method.unit}"
        levels = f"{', '.join(f'{x:g}' for x in sorted({x for x, _ in barred}))} {calibration.job.method.unit}"
        return WorkingRange(
            None, None, f"{alone}, but other studies have criteria not met or not shown at {levels}", words
        )
    return WorkingRange(*found, "", words)


@dataclass
class _Search:
    """Ranges from wide to narrow; a range whose estimates lie outside the bounds is not looked at further."""

    calibration: Calibration
    rules: tuple[Rule, ...]
    deviations: tuple[Deviation, ...]
    bend: Bend | str
    readings: int = 0
    """Readings fitted so far: with very many levels and readings the search stops."""

    @property
    def is_stopped(self) -> bool:
        return self.readings > MOST_READINGS

    @property
    def why_none(self) -> str:
        if self.is_stopped:
            return "too many levels and readings: the search for a range in which the bounds hold was stopped"
        return f"no range of at least {FEWEST_LEVELS} levels meets the declared bounds"

    def widest(self, barred: list[float]) -> tuple[float, float] | None:
        levels = [level.x for level in self.calibration.above_zero]
        for low, high in _ranges(levels):
            if any(low <= x <= high for x in barred):
                continue
            part = self.calibration.between(low, high, with_zero=low == levels[0])
            if not _may_hold(part, self.rules):
                continue
            self.readings += len(part.x)
            if self._holds(part):
                return low, high
            if self.is_stopped:
                return None
        return None

    def _holds(self, part: Calibration) -> bool:
        whole = part is self.calibration
        deviations, bend = (self.deviations, self.bend) if whole else (deviations_of(part), bend_of(part))
        if not deviations or isinstance(bend, str):
            return False
        return all(_rule_holds(rule, deviations, bend) for rule in self.rules)


def _may_hold(part: Calibration, rules: tuple[Rule, ...]) -> bool:
    """Whether the estimates of all levels lie inside the bounds, from level means alone: cheap and necessary."""
    x = np.array([level.x for level in part.measured])
    y = np.array([float(np.mean(level.y)) for level in part.measured])
    if part.shows_content:
        found = y
    elif part.by_day or part.settings.through_origin:
        return True
    else:
        weights = part.weights_at(x)
        w = np.array([level.n for level in part.measured]) * (1.0 if weights is None else weights)
        dx = x - np.average(x, weights=w)
        slope = np.sum(w * dx * y) / np.sum(w * dx * dx)
        if slope == 0:
            return False
        found = np.average(x, weights=w) + (y - np.average(y, weights=w)) / slope
    above = x > 0
    percent = 100 * (found[above] - x[above]) / x[above]
    names = [level.level for level in part.measured if level.x > 0]
    return all(
        rule.low - ROUGH * abs(p) - ROUGH <= p <= rule.high + ROUGH * abs(p) + ROUGH
        for rule in rules
        if rule.finding != "curvature_deviation"
        for name, p in zip(names, percent.tolist(), strict=True)
        if rule.levels is None or name in rule.levels
    )


def working_range_findings(calibration: Calibration, found: WorkingRange) -> tuple[Finding, ...]:
    """Both ends, each at a level that was measured."""
    unit = calibration.job.method.unit
    ends = (("working_range_from", found.low, "lowest"), ("working_range_to", found.high, "highest"))
    common = {"level": None, "unit": unit, "formula": FORMULA, "source": SOURCE}
    if found.low is None or found.high is None:
        return tuple(Finding(name=name, value=None, reason=found.reason, **common) for name, _, _ in ends)
    within = [level for level in calibration.above_zero if found.low <= level.x <= found.high]
    return tuple(
        Finding(
            name=name,
            value=value,
            n=sum(level.n for level in within),
            groups=len(within),
            working=Working(
                expression="{x}",
                symbols=(Symbol(name="x", printed="x", meaning=f"{end} level of the range", value=value, unit=unit),),
            ),
            rows=calibration.rows,
            **common,
        )
        for name, value, end in ends
    )


def rules_of(settings: LinearitySettings) -> tuple[Rule, ...]:
    """The bounds that the protocol itself states on deviations."""
    made = []
    for name, bound in settings.accept.items():
        if name not in ("deviation", "largest_deviation", "curvature_deviation") or not bound.bounds:
            continue
        by_interval = bound.judge_by == "interval"
        if name == "deviation":
            low, high = bound.between or (bound.at_least, bound.at_most)
            open_low, open_high = float("-inf") if low is None else low, float("inf") if high is None else high
            made.append(Rule(name, open_low, open_high, by_interval, bound.levels))
        elif bound.at_most is not None:
            made.append(Rule(name, -bound.at_most, bound.at_most, by_interval, None))
    return tuple(made)


def _ranges(levels: list[float]) -> Iterator[tuple[float, float]]:
    """Pairs of levels with enough levels between them, the widest first, the lower one first among equals."""
    pairs = combinations_with_replacement(range(len(levels)), 2)
    wide = [(levels[i], levels[j]) for i, j in pairs if j - i + 1 >= FEWEST_LEVELS]
    return iter(sorted(wide, key=lambda pair: (pair[0] - pair[1], pair[0])))


def _rule_holds(rule: Rule, deviations: tuple[Deviation, ...], bend: Bend) -> bool:
    at_levels = rule.finding != "curvature_deviation"
    of_curve = rule.finding != "deviation"
    confidence = 1 - 2 * ALPHA
    chosen = [d for d in deviations if at_levels and (rule.levels is None or d.level in rule.levels)]
    levels_hold = all(not d.blocked and rule.allows(d.percent, d.limits(confidence)) for d in chosen)
    return levels_hold and (not of_curve or rule.allows(bend.percent, bend.limits(confidence)))


def _barred(job: StudyInput) -> tuple[tuple[float, str], ...]:
    """Levels at which a criterion of another study is not met or not shown."""
    return tuple(
        (float(need.finding.level), f"{need.words} of {need.study} {verdict}")
        for need in job.needed
        if need.finding.level is not None
        for verdict in need.verdicts
        if verdict is not Verdict.MET
    )


def _barred_words(barred: tuple[tuple[float, str], ...]) -> tuple[str, ...]:
    """`mean recovery of recovery-in-coffee not shown at 1, 5`."""
    levels: dict[str, list[str]] = {}
    for x, text in barred:
        levels.setdefault(text, []).append(f"{x:g}")
    return tuple(f"{text} at {', '.join(dict.fromkeys(found))}" for text, found in levels.items())
