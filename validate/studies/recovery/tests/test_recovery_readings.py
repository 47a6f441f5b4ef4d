"""Censored results, coarse readings, results that stand out: what they do to figures and verdicts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from validate.studies.recovery.tests.bench import METHOD, evaluate

SIX = [4.6, 4.9, 4.4, 4.8, 4.7, 4.5]
COARSE = replace(METHOD, resolution=1.0)


def test_censored_result_forbids_every_verdict_at_its_level() -> None:
    result = evaluate([*SIX, "<1"])
    for name in ("mean_recovery", "bias", "rsd_r"):
        finding = result.finding(name, "5")
        assert finding.n == 6
        assert finding.blocked == ("1 of 7 results is censored and not in the figure",)


def test_missing_result_is_flagged_and_forbids_nothing() -> None:
    result = evaluate([*SIX, "NA", ""])
    assert result.finding("mean_recovery", "5").blocked == ()
    assert [(r.kind, r.rows) for r in result.remarks if r.level == "5"] == [("flag", "8-9")]


def test_level_of_censored_results_only_says_so() -> None:
    assert evaluate(["<1", "<1"]).finding("rsd_r", "5").reason == "all 2 results at this level are censored"


def test_spread_below_half_a_step_of_the_reading_forbids_a_verdict() -> None:
    finding = evaluate([5.0, 5.0, 5.0, 6.0, 5.0, 5.0], method=COARSE).finding("rsd_r", "5")
    assert finding.value == pytest.approx(100 * (1 / 6) ** 0.5 / (31 / 6))
    assert finding.blocked == ("s is below half the resolution of the reading (1 µg/kg)",)


def test_step_of_the_reading_enters_the_interval_when_it_hides_the_scatter() -> None:
    """s = 0: only the step is left, u = 100/5·1/√12."""
    finding = evaluate([5.0] * 6, method=COARSE).finding("mean_recovery", "5")
    assert finding.sampling.se == pytest.approx(20 / 12**0.5)
    assert finding.blocked == ("all results are identical (s = 0)",)


def test_results_at_the_floor_forbid_a_verdict() -> None:
    finding = evaluate([0.0, 0.2, 0.0, 0.4, 0.3], added="0.2", levels=("0.2",), method=replace(METHOD, floor=0.0))
    assert "floor of the reading" in finding.finding("mean_recovery", "0.2").blocked[0]


def test_many_equal_results_are_told() -> None:
    result = evaluate([5.0, 5.0, 5.0, 5.4, 4.6])
    assert "60 % of the results are the same number: the reading is coarse." in [r.text for r in result.remarks]


def test_result_that_stands_out_is_flagged_and_stays() -> None:
    result = evaluate([*SIX, 46.0])
    flags = [r for r in result.remarks if r.kind == "flag"]
    assert [(f.level, f.rows) for f in flags] == [("5", "8")]
    assert flags[0].text.endswith("Flagged; a reason is needed; both results below.")
    assert result.finding("mean_recovery", "5").n == 7


def test_figures_stand_with_and_without_the_flagged_result() -> None:
    table = next(t for t in evaluate([*SIX, 46.0]).tables if t.name == "flagged")
    with_all, without = table.rows
    assert with_all[1:4] == ("with all results", 7.0, pytest.approx(100 * 73.9 / 35))
    assert without[1:4] == ("without row 8", 6.0, pytest.approx(93))


def test_flag_on_a_result_names_that_result_not_its_whole_day() -> None:
    found = [*SIX, 4.6, 46.0]
    result = evaluate(found, day=["a", "a", "b", "b", "c", "c", "d", "d"])
    table = next(t for t in result.tables if t.name == "flagged")
    assert table.rows[1][1] == "without row 9"


def test_cochran_is_left_out_where_the_step_makes_the_variances() -> None:
    found, days = [5.0, 5.0, 5.1, 5.1, 4.9, 4.9, 5.0, 5.1], ["a", "a", "b", "b", "c", "c", "d", "d"]
    tests = evaluate(found, day=days, method=replace(METHOD, resolution=0.1)).tables[1]
    assert not any("Cochran" in str(row[1]) for row in tests.rows)
    fine = evaluate(found, day=days).tables[1]
    assert any("Cochran" in str(row[1]) for row in fine.rows)


def test_censored_native_result_forbids_a_verdict_like_a_censored_result() -> None:
    native = {"native": {"from": "column"}}
    result = evaluate([5.5, 6.5, 7.5], native=[1.0, 2.0, "<0.5"], setting=native)
    finding = result.finding("mean_recovery", "5")
    assert (finding.n, finding.value) == (2, pytest.approx(90))
    assert finding.blocked == ("1 of 3 results is censored and not in the figure",)


def test_three_or_four_means_are_too_few_to_flag_one() -> None:
    """Two of three equal means reach Grubbs' critical value whatever the third is."""
    tests = evaluate([5.0, 5.2, 5.1, 5.1, 4.4, 4.8], day=["a", "a", "b", "b", "c", "c"]).tables[1]
    assert not any("means of days" in str(row[1]) for row in tests.rows)
