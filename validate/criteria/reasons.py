"""The sentence beside a verdict, in words that an analyst can follow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from validate.criteria.catalogue import THE_LABORATORY
from validate.criteria.comparing import Comparison
from validate.criteria.coverage import characteristics
from validate.criteria.words import number_words, plain, with_unit
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.finding import COUNTED, Finding, FindingKind, Interval
from validate.vocabulary.verdict import Verdict

COUNT = "a count, without uncertainty"


@dataclass(frozen=True)
class Reasons:
    """Sentences on one criterion."""

    criterion: Criterion
    subject: str
    """The finding in words, with its level."""
    low: float | None
    """The lower bound that decides: none where it is only a query."""

    @classmethod
    def of(cls, criterion: Criterion, kind: FindingKind | None) -> Reasons:
        title = kind.title if kind is not None else _title(criterion.finding)
        subject = title if criterion.level is None else f"{title} at level {criterion.level}"
        return cls(criterion, subject, None if kind is not None and kind.lower_bound_is_query else criterion.low)

    def not_studied(self) -> str:
        return f"{self.subject}: not shown, because no study of this protocol gives it."

    def no_data(self) -> str:
        return f"{self.subject}: not shown, because the study {self.criterion.study} has no results."

    def no_result(self) -> str:
        where = "in this study" if self.criterion.level is None else "at this level"
        return f"{self.subject}: not shown, because there is no result {where}."

    def too_few_results(self, finding: Finding, needed: int) -> str:
        has = "the number of results is not known" if finding.n is None else f"there are {finding.n} results"
        return f"{self.subject}: not shown, because {has} and a verdict needs at least {needed}."

    def too_few_groups(self, finding: Finding, needed: int) -> str:
        has = "the groups (days, laboratories) are not recorded" if finding.groups is None else (
            f"the results come from {finding.groups} group{'' if finding.groups == 1 else 's'} (days, laboratories)"
        )  # fmt: skip
        return f"{self.subject}: not shown, because {has} and a verdict needs at least {needed}."

    def no_value(self, finding: Finding) -> str:
        why = _clause(finding.reason or "no reason given")
        return f"{self.subject}: not shown, because it cannot be computed: {why}."

    def blocked(self, finding: Finding) -> str:
        return f"{self.subject}: not shown, because {'; '.join(_clause(reason) for reason in finding.blocked)}."

    def by_estimate(self, finding: Finding, comparison: Comparison, *, firm: bool) -> str:
        """`met (by the estimate, as the source asks; the data do not exclude …)` where it is not firm."""
        compared = self._compared(finding, inside=comparison.by_estimate is Verdict.MET)
        verdict = str(comparison.by_estimate)
        if firm:
            return f"{compared}: {verdict}, and firm ({self._interval_words(comparison)})."
        open_to = self._not_excluded(finding, comparison)
        return f"{compared}: {verdict} (by the estimate, as {self._who_asks()}; {open_to})."

    def by_interval(self, finding: Finding, comparison: Comparison) -> str:
        verdict = comparison.by_interval
        if comparison.met_interval is not None and _counted(comparison.met_interval):
            return f"{self._compared(finding, inside=verdict is Verdict.MET)}: {verdict} ({COUNT})."
        found = self.found(finding)
        if verdict is not Verdict.NOT_SHOWN:
            judged = comparison.met_interval if verdict is Verdict.MET else comparison.not_met_interval
            return f"{found}; {self._range(judged)} {self._lies(met=verdict is Verdict.MET)}: {verdict}."
        if comparison.met_interval is None:
            why = f" ({'; '.join(map(_clause, finding.notes))})" if finding.notes else ""
            return f"{found}: not shown, because the study gives no interval that could show it{why}."
        lies = f"{self._range(comparison.met_interval)} {self._lies_not_inside()}"
        return f"{found}; {lies}, and the data do not prove {self._outside()} either: not shown."

    def because(self, why: str) -> str:
        """A verdict `not shown` for a reason that the judge found elsewhere."""
        return f"{self.subject}: not shown, because {why}."

    def sentence(self, verdict: Verdict, why: str) -> str:
        """A verdict that rests on counted samples or on verdicts at levels."""
        return f"{self.subject}, {self.criterion.wording}: {why}: {verdict}."

    def found(self, finding: Finding) -> str:
        return f"{self.subject} is {self._value(finding)}"

    def bound_in_words(self, bound: float) -> str:
        return self._plain_bound(bound)

    def query(self, finding: Finding) -> str:
        return (
            f"{self.subject} is {self._number(finding.value)}, below {self._plain_bound(self.criterion.low)}: "
            "a query (averaged, copied or rounded results?), not a failure."
        )

    def exception_used(self, conditions: Sequence[str]) -> str:
        wider = self.criterion.exception
        held = f"{_and(conditions)} {'is' if len(conditions) == 1 else 'are'} met at this level"
        return f" The wider bound is used ({wider.wording}), because {held}."

    def exception_closed(self, conditions: Sequence[str]) -> str:
        wider = self.criterion.exception
        lacking = f"{_and(conditions)} {'is' if len(conditions) == 1 else 'are'} not met at this level"
        return f" The wider bound ({wider.wording}) does not count, because {lacking}."

    def _compared(self, finding: Finding, *, inside: bool) -> str:
        return f"{self.subject} is {self._value(finding)}, {self._relation(inside=inside)}"

    def _relation(self, *, inside: bool) -> str:
        """`not above 20 %`, `below 95 %`, `within 70 % to 120 %`."""
        if not self._one_ended:
            return f"{'within' if inside else 'outside'} {self._bound()}"
        side, bound = ("above", self.criterion.high) if self.low is None else ("below", self.low)
        return f"{'not ' if inside else ''}{side} {self._plain_bound(bound)}"

    def _lies(self, *, met: bool) -> str:
        if self._one_ended:
            return f"is {self._relation(inside=met)}"
        return f"lies {'inside' if met else 'wholly outside'} {self._bound()}"

    def _outside(self) -> str:
        """`a value above 15 %`, `a value outside 70 % to 120 %`."""
        return f"a value {self._relation(inside=False)}"

    def _lies_not_inside(self) -> str:
        return f"is {self._relation(inside=False)}" if self._one_ended else f"does not lie inside {self._bound()}"

    @property
    def _one_ended(self) -> bool:
        return self.low is None or self.criterion.high is None

    def _bound(self) -> str:
        return f"{self._plain_bound(self.low)} to {self._plain_bound(self.criterion.high)}"

    def _who_asks(self) -> str:
        return "the protocol asks" if self.criterion.source == THE_LABORATORY else "the source asks"

    def _interval_words(self, comparison: Comparison) -> str:
        met = comparison.by_interval is Verdict.MET
        return self._range(comparison.met_interval if met else comparison.not_met_interval)

    def _not_excluded(self, finding: Finding, comparison: Comparison) -> str:
        """The far end of the interval on the other side of the bound than the estimate."""
        met = comparison.by_estimate is Verdict.MET
        interval = comparison.met_interval if met else comparison.not_met_interval
        if interval is None:
            return "the study gives no interval, so what the data exclude is not known"
        ends = self._ends_beyond(interval) if met else self._ends_within(finding, interval)
        return "the data do not exclude " + " or ".join(ends)

    def _ends_beyond(self, interval: Interval) -> list[str]:
        ends = []
        if self.low is not None and (interval.low is None or interval.low < self.low):
            ends.append("any lower value" if interval.low is None else self._number(interval.low))
        if self.criterion.high is not None and (interval.high is None or interval.high > self.criterion.high):
            ends.append("any higher value" if interval.high is None else self._number(interval.high))
        return ends

    def _ends_within(self, finding: Finding, interval: Interval) -> list[str]:
        above = self.criterion.high is not None and finding.value > self.criterion.high
        end = interval.low if above else interval.high
        return ["values within it" if end is None else self._number(end)]

    def _range(self, interval: Interval) -> str:
        """The interval in words; only the end that decides where the bound has one end; of a count that it is one."""
        if _counted(interval):
            return COUNT
        low = "open" if interval.low is None else self._number(interval.low)
        high = "open" if interval.high is None else self._number(interval.high)
        if not self._one_ended:
            return f"the {_percent(interval.level)} interval {low} to {high}"
        side, end = ("upper", high) if (self.low is None) is (interval.use == "met") else ("lower", low)
        return f"the {side} {_percent(interval.level + (1 - interval.level) / 2)} limit {end}"

    def _value(self, finding: Finding) -> str:
        counted = any(_counted(interval) for interval in finding.intervals)
        return with_unit(plain(finding.value), self.criterion.unit) if counted else self._number(finding.value)

    def _number(self, value: float) -> str:
        bounds = (self.criterion.low, self.criterion.high)
        return with_unit(number_words(value, beside=bounds), self.criterion.unit)

    def _plain_bound(self, bound: float) -> str:
        return with_unit(plain(bound), self.criterion.unit)


def _title(finding: str) -> str:
    """Words for a figure that no study of the protocol gives."""
    found = next((each.title for each in characteristics().values() if finding in each.findings), None)
    return finding if found is None else f"{found} ({finding})"


def _counted(interval: Interval) -> bool:
    """Whether the study says that the figure was counted, so that its limits are the figure itself."""
    return interval.method == COUNTED


def _percent(share: float) -> str:
    return f"{share * 100:.4g} %"


def _clause(sentence: str) -> str:
    return sentence.strip().rstrip(".")


def _and(names: Sequence[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last
