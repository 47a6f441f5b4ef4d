"""What a comparison can decide: error rates before the work, samples that are still missing after it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from validate.stats.design import pairs_for_equivalence, pairs_for_shift, pass_probability, replicates_for_recovery
from validate.stats.design_lots import shift_power
from validate.stats.equivalence import rejection_rate
from validate.studies.contract import ALPHA
from validate.studies.lot_comparison.comparing import Outcome
from validate.studies.lot_comparison.context import Context, in_units
from validate.studies.lot_comparison.settings import LotComparisonSettings

POWER = 0.8
MOST_SAMPLES = 1000
"""More samples than that nobody measures for one lot."""


@dataclass(frozen=True)
class Rates:
    """What a rule does with lots that are and are not what they should be."""

    rule: str
    level: str
    n: int
    accepts_unchanged: float
    accepts_at_third: float | None
    """A lot off by a third of the margin; None for shift detection."""
    accepts_at_bound: float
    """A lot at the margin, or off by the critical shift."""


def equivalence_rates(low: float, high: float, s: float, n: int, df: float, *, level: str = "") -> Rates:
    """Chances that n differences of standard deviation s show equality."""

    def shown(truth: float) -> float:
        se = s / math.sqrt(n)
        return pass_probability(truth, kind="mean", low=low, high=high, se=se, df=df, by="interval")

    return Rates(
        rule="90 % interval within the margin",
        level=level,
        n=n,
        accepts_unchanged=shown(0.0),
        accepts_at_third=min(shown(low / 3), shown(high / 3)),
        accepts_at_bound=max(shown(low), shown(high)),
    )


def shift_rates(settings: LotComparisonSettings, n: int) -> Rates:
    """The rule of the protocol for n pairs, with the spread that it states; its limit is that of the planned pairs."""
    s, shift = settings.s_of_difference, settings.critical_shift
    if n == settings.design.samples:
        power = shift_power(shift, s, n, df=settings.spread.df, false_alarm=settings.shift.false_alarm)
        alarm = settings.shift.false_alarm
    else:
        alarm, power = (rejection_rate(settings.rejection_limit, s, n, truth=truth) for truth in (0.0, shift))
    low, high = (settings.shown(end) for end in (-settings.rejection_limit, settings.rejection_limit))
    unit = "%" if settings.is_ratio else ""
    return Rates(
        rule=f"mean of the pairs from {low:.4g} to {high:.4g} {unit}".rstrip(),
        level="",
        n=n,
        accepts_unchanged=1 - alarm,
        accepts_at_third=None,
        accepts_at_bound=1 - power,
    )


def rates(context: Context, found: tuple[Outcome, ...]) -> tuple[Rates, ...]:
    """Error rates of the rule that decides, with the scatter observed (equivalence) or stated (shift detection)."""
    settings = context.settings
    if settings.is_shift:
        return (shift_rates(settings, context.all.n),) if context.all.n else ()
    low, high = settings.margin_ends
    made = []
    for each in found:
        if each.tost is not None:
            of_mean = equivalence_rates(low, high, each.tost.se, 1, each.tost.df, level=each.part.level or "")
            made.append(replace(of_mean, n=each.part.n))
    return tuple(made)


def foretold(settings: LotComparisonSettings) -> Iterator[tuple[str, dict[str, object]]]:
    """Notices before the work (codes of problems.toml): what the planned number of pairs can decide."""
    s, n = settings.s_of_difference, settings.design.samples
    if s is None or not n:
        return
    if settings.is_shift:
        planned, power = shift_rates(settings, n), POWER
        needed = pairs_for_shift(settings.critical_shift, s, df=settings.spread.df, power=power).n
        values = {
            "n": n,
            "shift": shift_words(settings),
            "alarm": percent(settings.shift.false_alarm),
            "found": percent(1 - planned.accepts_at_bound),
            "needed": needed,
        }
        yield ("weak-shift-design" if n < needed else "shift-design-decides"), values
        return
    low, high = settings.margin_ends
    if n < 2:
        return
    planned = equivalence_rates(low, high, s, n, n - 1)
    levels = max(1, len(settings.design.levels)) if settings.judged_by_level else 1
    needed = pairs_for_equivalence((low, high), s, power=1 - (1 - POWER) / levels).n
    values = {
        "n": n,
        "chance": percent(planned.accepts_unchanged),
        "third": percent(planned.accepts_at_third),
        "needed": needed,
        "at": " at each level" if levels > 1 else "",
    }
    yield ("weak-equivalence-design" if n < needed else "equivalence-design-decides"), values


def missing_samples(context: Context, found: Outcome) -> str:
    """What would decide a level that is not shown, in one sentence; empty when its interval lies inside the margin."""
    settings, part, tost = context.settings, found.part, found.tost
    low, high = settings.margin_ends
    if tost is None:
        return _from_stated(settings, found)
    if low <= tost.low and tost.high <= high:
        return ""
    count = part.n if part.paired else max(part.new.size, part.current.size)
    word = "samples" if part.paired else f"results with each {settings.factor}"
    if part.groups is not None:
        count, word = len(set(part.groups)), "groups"
    s = _s_of_difference(found, count)
    inside = low < tost.estimate < high
    try:
        if inside:
            needed = pairs_for_equivalence((low, high), s, truth=tost.estimate, power=POWER).n
        else:
            beyond = tost.estimate - high if tost.estimate >= high else low - tost.estimate
            needed = replicates_for_recovery(beyond, s, power=POWER, alpha=ALPHA / context.job.comparisons).n
    except ValueError:
        needed = MOST_SAMPLES + 1
    if needed > MOST_SAMPLES:
        return "the mean found lies so near the margin that no number of samples a bench can measure would decide it"
    more, way = max(needed - count, 1), "within" if inside else "outside"
    return (
        f"{more} more {word} ({count + more} in all) would show it to lie {way} the margin with a chance of "
        f"{percent(POWER)}, if mean and scatter stay as found"
    )


def _s_of_difference(found: Outcome, count: int) -> float:
    """Standard deviation of one difference; not paired: of one result with each."""
    part = found.part
    if part.paired:
        return found.tost.se * math.sqrt(count)
    scale = np.log if part.is_ratio else np.asarray
    return math.sqrt(sum(float(np.var(scale(values), ddof=1)) for values in (part.new, part.current)))


def _from_stated(settings: LotComparisonSettings, found: Outcome) -> str:
    if settings.s_of_difference is None:
        return f"{found.why}; the protocol states no spread from which a number of samples could be found"
    try:
        needed = pairs_for_equivalence(settings.margin_ends, settings.s_of_difference, power=POWER).n
    except ValueError:
        return found.why
    return f"{found.why}; with the spread that the protocol states {needed} samples show an unchanged one to be equal"


def shift_words(settings: LotComparisonSettings, unit: str = "") -> str:
    shift = settings.shift
    return f"{shift.percent:g} %" if shift.percent is not None else f"{shift.absolute:g}{in_units(unit)}"


def margin_words(settings: LotComparisonSettings, unit: str) -> str:
    low, high = (settings.shown(end) for end in settings.margin_ends)
    return f"{low:.4g} % to {high:.4g} %" if settings.is_ratio else f"{low:.4g} to {high:.4g}{in_units(unit)}"


def percent(share: float) -> str:
    """`84 %`; small and large shares keep what matters."""
    value = 100 * share
    if value < 1 or value > 99:
        return "below 1 %" if value < 1 else "above 99 %"
    return f"{value:.0f} %"
