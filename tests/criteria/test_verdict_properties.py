"""What holds for every verdict: wider bounds never fail, units do not matter, words do not round past a bound."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from validate.criteria.comparing import compare
from validate.criteria.words import bound_words, number_words
from validate.vocabulary.finding import Finding, Interval
from validate.vocabulary.verdict import Verdict

ORDER = [Verdict.NOT_MET, Verdict.NOT_SHOWN, Verdict.MET]
VALUE = st.floats(0.001, 1000)


@st.composite
def findings(draw) -> Finding:
    """A value inside its `met` interval, inside its `not_met` interval."""
    outer_low, low, value, high, outer_high = sorted(draw(st.lists(VALUE, min_size=5, max_size=5)))
    return Finding(
        name="x", level=None, value=value, unit="%", formula="constructed", source="constructed",
        intervals=(
            Interval(use="met", level=0.90, low=low, high=high, method="constructed"),
            Interval(use="not_met", level=0.98, low=outer_low, high=outer_high, method="constructed"),
        ),
    )  # fmt: skip


@given(findings(), VALUE, VALUE, st.floats(0, 100), st.floats(0, 100))
def test_widening_a_range_never_makes_a_verdict_worse(finding, one, other, below, above):
    low, high = sorted((one, other))
    narrow, wide = compare(finding, low, high), compare(finding, low - below, high + above)
    assert ORDER.index(wide.by_estimate) >= ORDER.index(narrow.by_estimate)
    assert ORDER.index(wide.by_interval) >= ORDER.index(narrow.by_interval)


@given(findings(), VALUE, VALUE)
def test_an_interval_verdict_never_contradicts_the_estimate(finding, one, other):
    """`met` by the interval is met by the estimate, `not met` by the interval is not met by the estimate."""
    found = compare(finding, *sorted((one, other)))
    if found.by_interval is not Verdict.NOT_SHOWN:
        assert found.by_interval is found.by_estimate


@given(findings(), VALUE, st.sampled_from([1e-9, 1e-3, 1000.0]))
def test_a_change_of_unit_does_not_change_a_verdict(finding, bound, factor):
    if abs(bound - finding.value) < 1e-6 * bound:
        return
    scaled = Finding(
        name="x", level=None, value=finding.value * factor, unit="", formula="constructed", source="constructed"
    )
    assert compare(scaled, None, bound * factor).by_estimate is compare(finding, None, bound).by_estimate


@given(st.floats(0.01, 1e5), st.floats(-1e-4, 1e-4))
def test_a_number_beside_a_bound_never_reads_like_the_bound(bound, share):
    value = bound * (1 + share)
    if abs(share) > 1e-9:
        assert number_words(value, beside=[bound]) != number_words(bound, beside=[value])


def test_numbers_are_written_without_an_exponent_in_the_usual_range():
    assert [number_words(value) for value in (0.000123, 0.5, 9.996, 95.149, 1234.5, -30)] == [
        "0.000123", "0.500", "10.0", "95.1", "1230", "−30.0",
    ]  # fmt: skip


def test_more_digits_are_written_only_where_they_are_needed():
    assert number_words(120.04, beside=[70, 120]) == "120.04"
    assert number_words(95.149, beside=[70, 120]) == "95.1"


def test_bounds_in_words():
    assert bound_words(70, 120, "%") == "70 % to 120 %"
    assert bound_words(None, 2.5, "µg/kg") == "at most 2.5 µg/kg"
    assert bound_words(-50, None, "%") == "at least −50 %"
    assert bound_words(None, 12345.67, "µg/kg") == "at most 12345.67 µg/kg"
    assert bound_words(0.123456789, 123456.7, "%") == "0.123456789 % to 123456.7 %"


def test_a_bound_that_nobody_wrote_reads_to_six_digits():
    assert bound_words(100 / 1.087, 100 * 1.087**0.5, "%") == "91.9963 % to 104.259 %"


@given(findings(), st.lists(VALUE, min_size=3, max_size=6, unique=True))
def test_an_upper_bound_moves_through_the_verdicts_in_one_direction(finding, bounds):
    verdicts = [ORDER.index(compare(finding, None, bound).by_interval) for bound in sorted(bounds)]
    assert all(after >= before for before, after in pairwise(verdicts))
