"""A finding against a bound, by its estimate and by its intervals."""

from __future__ import annotations

from dataclasses import dataclass

from validate.vocabulary.finding import Finding, Interval
from validate.vocabulary.verdict import Verdict

RELATIVE_SLACK = 1e-9
"""Share of the bound by which doubles may pass it: 1.1/1.0·100 is 110.00000000000001."""


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """Both verdicts; the criterion's `judge_by` says which one counts."""

    by_estimate: Verdict
    by_interval: Verdict
    below_query: bool
    """The value lies below a lower bound that is only a query (HorRat)."""
    met_interval: Interval | None
    not_met_interval: Interval | None


def compare(finding: Finding, low: float | None, high: float | None, *, lower_is_query: bool = False) -> Comparison:
    """Estimate rule: inside is met. Interval rule: the `met` interval inside is met, the `not_met` one
    wholly outside is not met, anything else is not shown.

    `finding.value` must be a number. A lower bound that is only a query decides nothing.
    """
    value = finding.value
    if value is None:
        raise ValueError("a finding without a value has nothing to compare")
    below_query = lower_is_query and low is not None and not at_least(value, low)
    judged_low = None if lower_is_query else low
    met, not_met = finding.interval("met"), finding.interval("not_met")
    inside = _inside(value, value, judged_low, high)
    if met is not None and _inside(met.low, met.high, judged_low, high):
        by_interval = Verdict.MET
    elif not_met is not None and _outside(not_met, judged_low, high):
        by_interval = Verdict.NOT_MET
    else:
        by_interval = Verdict.NOT_SHOWN
    return Comparison(
        by_estimate=Verdict.MET if inside else Verdict.NOT_MET,
        by_interval=by_interval,
        below_query=below_query,
        met_interval=met,
        not_met_interval=not_met,
    )


def _inside(lowest: float | None, highest: float | None, low: float | None, high: float | None) -> bool:
    """Whether everything from lowest to highest is within the bound; an open end is not within one."""
    low_holds = low is None or (lowest is not None and at_least(lowest, low))
    high_holds = high is None or (highest is not None and at_most(highest, high))
    return low_holds and high_holds


def _outside(interval: Interval, low: float | None, high: float | None) -> bool:
    above = high is not None and interval.low is not None and not at_most(interval.low, high)
    below = low is not None and interval.high is not None and not at_least(interval.high, low)
    return above or below


def at_most(value: float, bound: float) -> bool:
    return value <= bound + RELATIVE_SLACK * abs(bound)


def at_least(value: float, bound: float) -> bool:
    return value >= bound - RELATIVE_SLACK * abs(bound)
