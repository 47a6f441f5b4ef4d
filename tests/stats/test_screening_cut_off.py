"""The cut-off of a screening test: the legal formula, its error rates, and limits that behave."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from validate.stats.screening import cut_off, false_negative_rate, false_suspect_rate, rates

SOME = st.lists(st.floats(-50, 50).map(lambda x: round(x, 3)), min_size=3, max_size=25).filter(
    lambda x: max(x) - min(x) > 0.1
)


def spread(mean: float, sd: float, n: int) -> np.ndarray:
    """n evenly spaced readings with this mean and standard deviation."""
    x = np.arange(float(n))
    return mean + sd * (x - x.mean()) / x.std(ddof=1)


def test_constructed_example_of_the_rule() -> None:
    at = cut_off(spread(5, 0.8, 20), direction="proportional")
    assert (round(at.t, 3), round(at.value, 4)) == (1.729, 3.6167)
    rate = false_suspect_rate(spread(0.6, 0.9, 20), at, direction="proportional")
    assert (round(rate.t, 4), round(rate.estimate, 6)) == (3.3519, 0.001675)


def test_an_inverse_response_is_the_mirror_image_of_a_proportional_one() -> None:
    up = cut_off([5.1, 4.2, 6.3, 5.5], direction="proportional")
    down = cut_off([-5.1, -4.2, -6.3, -5.5], direction="inverse")
    assert (down.value, down.low, down.high) == pytest.approx((-up.value, -up.high, -up.low))
    assert up.is_suspect(6) and not up.is_suspect(up.value)
    assert down.is_suspect(-6) and not down.is_suspect(down.value)


@given(SOME, st.floats(0.01, 100), st.floats(-100, 100))
@settings(max_examples=60, deadline=None)
def test_cut_off_follows_the_readings_in_shift_and_scale(x: list[float], scale: float, shift: float) -> None:
    plain = cut_off(x, direction="proportional")
    moved = cut_off(shift + scale * np.asarray(x), direction="proportional")
    for attribute in ("value", "low", "high"):
        expected = shift + scale * getattr(plain, attribute)
        assert getattr(moved, attribute) == pytest.approx(expected, rel=1e-7, abs=1e-6 * scale)


@given(SOME, st.randoms())
@settings(max_examples=30, deadline=None)
def test_cut_off_does_not_depend_on_the_order(x: list[float], order: object) -> None:
    shuffled = list(x)
    order.shuffle(shuffled)  # type: ignore[attr-defined]
    assert cut_off(shuffled, direction="inverse").value == pytest.approx(cut_off(x, direction="inverse").value)


@given(SOME, st.sampled_from(["proportional", "inverse"]))
@settings(max_examples=60, deadline=None)
def test_estimates_lie_within_their_limits(x: list[float], direction: str) -> None:
    at = cut_off(x, direction=direction)  # type: ignore[arg-type]
    assert at.low <= at.value <= at.high
    rate = false_suspect_rate(x, at.mean + 3 * at.sd, direction=direction)  # type: ignore[arg-type]
    assert 0 <= rate.low <= rate.estimate <= rate.high <= 1


@given(SOME, st.floats(-3, 12))
@settings(max_examples=60, deadline=None)
def test_a_higher_cut_off_makes_fewer_blanks_suspect(x: list[float], at: float) -> None:
    sd, mean = float(np.std(x, ddof=1)), float(np.mean(x))
    lower = false_suspect_rate(x, mean + at * sd, direction="proportional")
    higher = false_suspect_rate(x, mean + (at + 0.5) * sd, direction="proportional")
    assert higher.estimate < lower.estimate and higher.high <= lower.high and higher.low <= lower.low


def test_expected_false_negative_rate_lies_above_five_percent() -> None:
    """5.7 % at n = 10, 5.4 % at 20, 5.2 % at 40: the rule leaves out √(1 + 1/n)."""
    expected = {n: false_negative_rate(n).estimate for n in (10, 20, 40, 100_000)}
    assert [round(100 * expected[n], 1) for n in (10, 20, 40)] == [5.7, 5.4, 5.2]
    assert expected[100_000] == pytest.approx(0.05, abs=1e-5)


def test_a_cut_off_far_away_gives_a_rate_of_nothing_and_no_failure() -> None:
    for n in (3, 20, 1000):
        for far in (50.0, 1e6):
            rate = false_suspect_rate(spread(0, 1, n), far, direction="proportional")
            assert 0 <= rate.estimate < 3e-4 and rate.low <= rate.estimate <= rate.high


def test_blanks_beyond_the_cut_off_have_a_rate_above_one_half() -> None:
    assert false_suspect_rate([6, 7, 8], 5, direction="proportional").estimate > 0.8


def test_counts_give_both_shares_with_exact_limits() -> None:
    found = rates(18, 20)
    assert (found.detected.estimate, found.missed.estimate) == (0.9, 0.1)
    assert (round(found.missed.low, 4), round(found.missed.high, 4)) == (0.0123, 0.3170)
    assert found.detected.low == pytest.approx(1 - found.missed.high)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: cut_off([1, 2], direction="proportional"), "2 readings found, at least 3 needed"),
        (lambda: cut_off([2, 2, 2], direction="proportional"), "all 3 readings at the target level are equal"),
        (lambda: cut_off([1, 2, math.nan], direction="proportional"), "without a number"),
        (lambda: cut_off([1, 2, 3], direction="falling"), "unknown direction"),
        (lambda: false_suspect_rate([0, 0, 0], 3, direction="proportional"), "all 3 blanks are equal"),
        (lambda: false_suspect_rate([0, 1], 3, direction="proportional"), "2 blanks found"),
        (lambda: false_suspect_rate([0, 1, 2], math.inf, direction="proportional"), "finite"),
        (
            lambda: false_suspect_rate([0, 1, 2], cut_off([4, 5, 6], direction="inverse"), direction="proportional"),
            "inverse, not proportional",
        ),
        (lambda: false_negative_rate(2), "at least 3"),
        (lambda: rates(3, 2), "at most 2"),
    ],
)
def test_bad_input_is_refused_in_words(call: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()  # type: ignore[operator]
