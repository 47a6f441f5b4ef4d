"""Properties that hold whatever the data, and workings that recompute."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.working import recompute, recompute_limits
from validate.studies.linearity.findings import FINDINGS
from validate.studies.linearity.tests.linearity_bench import X, Y, evaluate, finding_of, own

ZERO_X, ZERO_Y = [0, 0, *X], [0.1, 0.3, *Y]
DESIGNS: dict[str, dict[str, Any]] = {
    "plain": {},
    "single readings": {"x": X[::2], "y": Y[::2]},
    "weighted": {"weights": "1/x^2"},
    "with a blank and a floor": {"x": ZERO_X, "y": ZERO_Y, "weights": "1/x", "weight_floor": "1"},
    "by function": {
        "weights": "variance function",
        "variance_function": {"constant": "0.1", "relative_percent": "5"},
    },
    "through the origin": {"through_origin": "yes"},
    "falling signal": {"y": [200 - v for v in Y]},
    "over days": {"columns": {"day": ["a", "b"] * 6}},
    "shown content": {"y": [v / 2 for v in Y], "form": "found against nominal"},
    "judged": {"accept": own("largest_deviation", at_most="50")},
    "set points": {
        "x": [5, 5, 5, 20, 20, 20],
        "y": [5.1, 4.9, 5.3, 19.8, 20.4, 20.1],
        "form": "set points",
        "columns": {"date": ["2031-03-01", "2031-03-02", "2031-03-03"] * 2},
    },
}


@pytest.mark.parametrize("design", DESIGNS)
def test_working_recomputes_to_its_finding(design: str) -> None:
    findings = [f for f in evaluate(**DESIGNS[design]).findings if f.value is not None]
    assert findings
    for finding in findings:
        assert finding.working is not None, finding.name
        assert recompute(finding.working) == pytest.approx(finding.value, rel=1e-9, abs=1e-9), finding.name


@pytest.mark.parametrize("design", DESIGNS)
def test_limits_of_levels_and_of_the_line_recompute(design: str) -> None:
    """The farthest end of several intervals has no working of its own; it is one of theirs."""
    findings = [f for f in evaluate(**DESIGNS[design]).findings if f.interval("shown")]
    redone = [f for f in findings if f.interval("shown").working]
    assert {f.name for f in findings} - {f.name for f in redone} <= {"largest_deviation", "curvature_deviation"}
    assert redone
    for finding in redone:
        shown = finding.interval("shown")
        assert recompute_limits(finding) == pytest.approx((shown.low, shown.high), rel=1e-9), finding.name


@pytest.mark.parametrize("design", DESIGNS)
def test_every_finding_is_declared_and_has_a_value_or_a_reason(design: str) -> None:
    declared = {kind.name for kind in FINDINGS}
    for finding in evaluate(**DESIGNS[design]).findings:
        assert finding.name in declared
        assert finding.value is not None or finding.reason


@pytest.mark.parametrize("design", DESIGNS)
def test_intervals_hold_the_estimate_and_widen_with_confidence(design: str) -> None:
    for finding in evaluate(comparisons=9, **DESIGNS[design]).findings:
        if not finding.intervals:
            continue
        met, shown, not_met = (finding.interval(use) for use in ("met", "shown", "not_met"))
        assert not_met.low <= shown.low <= met.low <= finding.value <= met.high <= shown.high <= not_met.high


def percentages(**more: Any) -> dict[tuple[str, str | None], float]:
    names = ("deviation", "largest_deviation", "curvature_deviation")
    return {(f.name, f.level): f.value for f in evaluate(**more).findings if f.name in names}


@given(scale=st.floats(0.01, 1000), shift=st.floats(-50, 50))
def test_unit_and_zero_of_the_signal_change_no_percentage(scale: float, shift: float) -> None:
    moved = percentages(y=[scale * v + shift for v in Y])
    assert moved == pytest.approx(percentages(), rel=1e-6, abs=1e-6)


@given(st.permutations(range(len(X))))
def test_order_of_the_rows_changes_nothing(order: list[int]) -> None:
    moved = percentages(x=[X[i] for i in order], y=[Y[i] for i in order])
    assert moved == pytest.approx(percentages(), rel=1e-9, abs=1e-9)


def test_a_falling_signal_gives_the_same_deviations_as_a_rising_one() -> None:
    assert percentages(y=[200 - v for v in Y]) == pytest.approx(percentages(), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("unit", [0.001, 1000])
def test_unit_of_the_content_changes_no_percentage(unit: float) -> None:
    values = list(percentages(x=[v * unit for v in X]).values())
    assert values == pytest.approx(list(percentages().values()), rel=1e-9, abs=1e-9)


def test_weights_by_a_flat_function_are_no_weights() -> None:
    flat = {"constant": "3", "relative_percent": "0.0000001"}
    weighted = percentages(weights="variance function", variance_function=flat)
    assert weighted == pytest.approx(percentages(), rel=1e-9, abs=1e-9)


def test_equal_relative_scatter_gives_equal_limits_at_all_levels_under_relative_weights() -> None:
    result = evaluate(weights="1/x^2")
    errors = [finding_of(result, "deviation", level).sampling.se for level in ("1", "5", "40")]
    assert all(math.isclose(error, errors[0], rel_tol=1e-9) for error in errors)
