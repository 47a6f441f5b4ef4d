"""Limits as a reader sees them beside a figure."""

from dataclasses import replace

from tests.dossier.sample import sample
from validate.dossier.numbers import EN_DASH
from validate.dossier.words import Words
from validate.vocabulary.finding import COUNTED, Finding, Interval


def with_limits(low: float, high: float, method: str) -> Finding:
    finding = sample().studies[0].as_reported.findings[0]
    shown = Interval(use="shown", level=0.95, low=low, high=high, method=method)
    return replace(finding, value=3.0, intervals=(shown,))


def test_a_count_has_a_dash_in_place_of_limits_that_equal_it() -> None:
    words = Words(sample(), lambda *_: "")
    count = with_limits(3, 3, COUNTED)
    assert (words.figure(count), words.limits(count)) == ("3", EN_DASH)
    assert words.limits(with_limits(3, 3, "t")) == "3 to 3"
