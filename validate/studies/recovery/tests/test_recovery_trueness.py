"""What the mean of a level says, and how sure it is."""

from __future__ import annotations

import math
from typing import Any

import pytest

from validate.studies.contract import ReferenceValue
from validate.studies.recovery.tests.bench import evaluate
from validate.vocabulary.finding import Finding

DAYS = ["a", "a", "b", "b", "c", "c", "d", "d", "e", "e"]
FOUND = [10.1, 10.3, 9.6, 9.9, 10.8, 10.6, 10.0, 9.7, 10.4, 10.9]
SIX = [4.6, 4.9, 4.4, 4.8, 4.7, 4.5]
T_4_975, T_5_975, T_5_95 = 2.776445105, 2.570581836, 2.015048373
"""Quantiles of Student's t from the usual tables: df and probability in the name."""


def trueness(found: list[Any], name: str = "mean_recovery", **more: Any) -> Finding:
    level = more.get("levels", ("5",))[0]
    finding = evaluate(found, **more).finding(name, level)
    assert finding is not None
    return finding


def limits(finding: Finding, use: str) -> tuple[float, float, float]:
    interval = finding.interval(use)
    assert interval is not None
    return interval.low, interval.high, interval.level


def test_recovery_is_found_over_added_in_percent() -> None:
    """Σ = 27.9, mean 4.65, added 5: 93 %; s² = 0.035, so u = 100/5·√(0.035/6)."""
    finding = trueness(SIX)
    half = T_5_975 * 20 * math.sqrt(0.035 / 6)
    assert finding.value == pytest.approx(93)
    assert limits(finding, "shown") == pytest.approx((93 - half, 93 + half, 0.95))


def test_met_rests_on_ninety_percent_between_both_ends() -> None:
    half = T_5_95 * 20 * math.sqrt(0.035 / 6)
    assert limits(trueness(SIX), "met") == pytest.approx((93 - half, 93 + half, 0.90))


@pytest.mark.parametrize(("comparisons", "level"), [(1, 0.90), (5, 0.98), (10, 0.99)])
def test_not_met_divides_the_error_rate_by_the_number_of_comparisons(comparisons: int, level: float) -> None:
    found = limits(trueness(SIX, comparisons=comparisons), "not_met")
    assert found[2] == pytest.approx(level)


def test_met_does_not_change_with_the_number_of_comparisons() -> None:
    assert limits(trueness(SIX, comparisons=10), "met") == limits(trueness(SIX), "met")


def test_days_carry_the_interval_of_the_mean() -> None:
    """Day means 10.2, 9.75, 10.7, 9.85, 10.65: variance 0.19325, so u = √(0.19325/5) on 4 df."""
    finding = trueness(FOUND, added="10", levels=("10",), day=DAYS)
    half = T_4_975 * 10 * math.sqrt(0.19325 / 5)
    assert (finding.value, finding.df, finding.groups) == (pytest.approx(102.3), 4, 5)
    assert limits(finding, "shown") == pytest.approx((102.3 - half, 102.3 + half, 0.95))


def test_single_results_taken_as_independent_look_more_certain_than_they_are() -> None:
    grouped = limits(trueness(FOUND, added="10", levels=("10",), day=DAYS), "shown")
    naive = limits(trueness(FOUND, added="10", levels=("10",)), "shown")
    assert grouped[0] < naive[0] < naive[1] < grouped[1]


def test_unequal_days_count_alike() -> None:
    """Day a has three results of 4, day b one of 5: the mean is 4.5, not 4.25."""
    finding = trueness([4.0, 4.0, 4.0, 5.0], day=["a", "a", "a", "b"])
    assert finding.value == pytest.approx(90)


def test_error_of_the_native_content_widens_the_interval() -> None:
    """s_native = 0.3 on 3 results adds (100/5)²·0.09/3 to u²."""
    native = {"native": {"value": "1", "s": "0.3", "n": "3"}}
    found = [f + 1 for f in SIX]
    finding = trueness(found, setting=native)
    assert finding.value == pytest.approx(93)
    assert finding.sampling is not None
    assert finding.sampling.se == pytest.approx(20 * math.sqrt(0.035 / 6 + 0.09 / 3))


def test_degrees_of_freedom_mix_those_of_found_and_native() -> None:
    native = {"native": {"value": "1", "s": "0.3", "n": "3"}}
    a, b = 0.035 / 6, 0.09 / 3
    finding = trueness([f + 1 for f in SIX], setting=native)
    assert finding.df == pytest.approx((a + b) ** 2 / (a**2 / 5 + b**2 / 2))


def test_error_of_the_added_amount_grows_with_the_recovery() -> None:
    """2 % of the added amount at a recovery of 93 %: (0.93·2)² per cent squared."""
    finding = trueness(SIX, setting={"relative_u_of_added_percent": "2"})
    assert finding.sampling is not None
    assert finding.sampling.se == pytest.approx(math.hypot(20 * math.sqrt(0.035 / 6), 0.93 * 2))


def test_native_results_of_the_same_day_are_subtracted_within_the_day() -> None:
    """Both rise by 1 on day b: the difference, and so the recovery, does not move."""
    found = [5.6, 5.4, 6.6, 6.4, 1.0, 2.0]
    finding = trueness(
        found,
        added=["5", "5", "5", "5", "0", "0"],
        day=["a", "a", "b", "b", "a", "b"],
        setting={"native": {"from": "rows"}},
    )
    assert finding.value == pytest.approx(90)
    assert limits(finding, "shown")[:2] == pytest.approx((90, 90))


def test_native_results_without_days_bring_their_own_scatter() -> None:
    found = [*(f + 1 for f in SIX), 0.7, 1.0, 1.3]
    finding = trueness(found, added=["5"] * 6 + ["0"] * 3, setting={"native": {"from": "rows"}})
    assert finding.value == pytest.approx(93)
    assert finding.sampling is not None
    assert finding.sampling.se == pytest.approx(20 * math.sqrt(0.035 / 6 + 0.09 / 3))


def test_native_column_is_subtracted_row_by_row() -> None:
    finding = trueness([5.5, 6.5, 7.5], native=[1.0, 2.0, 3.0], setting={"native": {"from": "column"}})
    assert finding.value == pytest.approx(90)


def test_certified_value_takes_the_place_of_the_added_amount() -> None:
    """Reference 5.2 with u = 0.1 stands for the level named 5."""
    finding = trueness(
        SIX,
        "bias",
        setting={"contamination": "certified", "reference": {"5": "wheat CRM"}},
        materials={"wheat CRM": ReferenceValue(material="wheat CRM", value=5.2, u=0.1)},
    )
    assert finding.value == pytest.approx(4.65 - 5.2)
    assert finding.sampling is not None
    assert finding.sampling.se == pytest.approx(math.hypot(math.sqrt(0.035 / 6), 0.1))


def test_bias_in_percent_is_the_recovery_less_hundred() -> None:
    assert trueness(SIX, "bias_percent").value == pytest.approx(-7)


def test_natural_sample_without_a_value_has_no_recovery_but_a_reason() -> None:
    result = evaluate(SIX, setting={"contamination": "naturally contaminated"})
    finding = result.finding("mean_recovery", "5")
    assert finding is not None and finding.value is None
    assert finding.reason == "no reference value: nobody added, certified or assigned a content at this level"
    assert result.finding("s_r", "5").value == pytest.approx(math.sqrt(0.035))  # type: ignore[union-attr]


def test_declared_level_without_results_stays_with_its_reason() -> None:
    finding = trueness(SIX, levels=("20",))
    assert finding.value is None
    assert finding.reason == "no result at this level"


def test_one_result_gives_a_recovery_without_an_interval() -> None:
    finding = trueness([4.5])
    assert (finding.value, finding.intervals) == (pytest.approx(90), ())


def test_spike_below_the_native_content_is_told() -> None:
    result = evaluate([f + 8 for f in SIX], setting={"native": {"value": "8", "u": "0.2"}})
    assert "Spike too small: the native content exceeds what was added." in [r.text for r in result.remarks]


def test_recovery_on_spikes_is_marked() -> None:
    assert "Recovery on spikes: extraction of natural contamination not tested." in [
        r.text for r in evaluate(SIX).remarks
    ]


@pytest.mark.parametrize(("unspiked", "recovery"), [(["<0.5", "n.d."], 93), (["<0.5", 0.5], 83)])
def test_censored_results_on_the_unspiked_sample_forbid_a_verdict_on_trueness(
    unspiked: list[float | str], recovery: float
) -> None:
    """A content below a limit is not zero: the figure is shown and told, precision is not touched."""
    result = evaluate([*SIX, *unspiked], added=["5"] * 6 + ["0"] * 2, setting={"native": {"from": "rows"}})
    censored = sum(isinstance(each, str) for each in unspiked)
    reason = f"{censored} of 2 results on the unspiked sample are censored: its content is not known"
    for name in ("mean_recovery", "bias", "bias_percent"):
        assert reason in result.finding(name, "5").blocked  # type: ignore[union-attr]
    assert result.finding("mean_recovery", "5").value == pytest.approx(recovery)  # type: ignore[union-attr]
    assert result.finding("rsd_r", "5").blocked == ()  # type: ignore[union-attr]
    assert any("give it under `native` with `value` and `u`" in r.text for r in result.remarks)
