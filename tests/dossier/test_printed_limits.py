"""Limits as a reader sees them beside a figure."""

from dataclasses import replace

from tests.dossier.sample import sample
from validate.dossier.numbers import EN_DASH
from validate.dossier.words import Words
from validate.vocabulary.finding import Finding, Interval


def counted(low: float, high: float) -> Finding:
    finding = sample().studies[0].as_reported.findings[0]
    shown = Interval(use="shown", level=0.95, low=low, high=high, method="constructed")
    return replace(finding, value=3.0, intervals=(shown,))


def test_a_count_has_a_dash_in_place_of_limits_that_equal_it() -> None:
    words = Words(sample(), lambda *_: "")
    assert (words.figure(counted(3, 3)), words.limits(counted(3, 3))) == ("3", EN_DASH)
    assert words.limits(counted(1, 5)) == "1.0 to 5.0"
