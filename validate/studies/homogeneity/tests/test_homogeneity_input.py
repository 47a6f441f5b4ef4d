"""What is told before a homogeneity study is evaluated, and what never carries a verdict."""

from __future__ import annotations

import pytest

from tests.working import recompute
from validate.studies.homogeneity.tests.homogeneity_bench import (
    TEN,
    duplicates,
    evaluated,
    problems,
    requirement,
    study,
)
from validate.vocabulary.verdict import Verdict


def codes(folder, rows, **keys) -> list[str]:
    return [problem.code for problem in problems(folder, rows, **keys)]


def test_a_sound_table_has_no_problem(tmp_path) -> None:
    assert codes(tmp_path, duplicates(TEN)) == []


@pytest.mark.parametrize(
    ("rows", "code"),
    [
        (duplicates(TEN[:1]), "one-unit"),
        ([row for row in duplicates(TEN)[::2]], "no-replicates"),
        (duplicates([(5, 5)] * 10), "all-equal"),
        (["U1,1,1,0,", "U1,1,1,0,"], "no-results"),
        ([*duplicates(TEN), "U11,1,11,0,100"], "single-result"),
    ],
)
def test_a_table_that_cannot_answer_is_told_with_its_code(tmp_path, rows, code) -> None:
    assert code in codes(tmp_path, rows)


@pytest.mark.parametrize(
    ("row", "code", "place"),
    [
        ("U1,1,1,0,107", "twice-in-a-unit", "units.csv:22:2"),
        ("U11,1,<3,0,107", "place-no-number", "units.csv:22:3"),
        ("U10,3,12,0,100", "two-places", "units.csv:22:3"),
    ],
)
def test_a_row_that_contradicts_the_others_is_pointed_at(tmp_path, row, code, place) -> None:
    found = problems(tmp_path, [*duplicates(TEN), row])
    assert [str(p.place).rsplit("/", 1)[-1] for p in found if p.code == code] == [place]


def test_one_portion_number_on_two_occasions_is_no_contradiction(tmp_path) -> None:
    rows = duplicates(TEN) + duplicates([(100, 101), (99, 100)], days=30)
    assert codes(tmp_path, rows, stability="{period: 30}") == []


def test_a_result_without_its_unit_is_pointed_at_by_its_cell(tmp_path) -> None:
    found = problems(tmp_path, [*duplicates(TEN), ",1,11,0,100"])
    assert any(str(p.place).endswith("units.csv:22:1") for p in found)


@pytest.mark.parametrize("text", ["NaN", "inf", "-inf", "1e999"])
def test_what_is_no_finite_number_is_refused_with_row_and_column(tmp_path, text) -> None:
    found = problems(tmp_path, [*duplicates(TEN), f"U11,1,11,0,{text}"])
    assert any(str(p.place).endswith("units.csv:22:5") for p in found)


@pytest.mark.parametrize(
    "sigma", ["{source: test}", "{value: 5, percent: 3, source: test}", "{value: 0, source: test}", "{value: 5}"]
)
def test_sigma_is_given_once_above_zero_and_with_its_source(tmp_path, sigma) -> None:
    assert any("sigma_pt" in p.message or "σ_pt" in p.message or "source" in p.message or "zero" in p.message
               for p in problems(tmp_path, duplicates(TEN), sigma=sigma))  # fmt: skip


def test_a_bound_of_ones_own_on_the_ruled_shares_is_refused(tmp_path) -> None:
    accept = "{s_sam_share: {at_most: 0.5, judge_by: estimate, source: own, reason: easier}}"
    assert any(
        "follows from the published rules" in p.message for p in problems(tmp_path, duplicates(TEN), accept=accept)
    )


def test_no_sigma_is_predicted_for_a_measurand_defined_by_its_method(tmp_path) -> None:
    sigma = "{model: horwitz, source: test}"
    assert codes(tmp_path, duplicates(TEN), sigma=sigma, method=", defined_by_method: yes") == ["no-sigma-from-model"]
    assert codes(tmp_path, duplicates(TEN), sigma=sigma) == []


def test_results_that_are_all_equal_show_nothing(tmp_path) -> None:
    verdict = requirement(evaluated(tmp_path, duplicates([(5, 5)] * 10)), "s_sam_share").as_reported
    assert verdict.verdict is Verdict.NOT_SHOWN and "all results are equal" in verdict.reason


def test_replicates_that_all_agree_show_nothing(tmp_path) -> None:
    verdict = requirement(evaluated(tmp_path, duplicates([(5 + i % 2, 5 + i % 2) for i in range(10)])), "s_sam_share")
    assert verdict.as_reported.verdict is Verdict.NOT_SHOWN and "replicates" in verdict.as_reported.reason


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        ("{resolution: 10}", "below half a step of the reading (10 µg/kg)"),
        ("{floor: 97}", "1 of 20 results stand at the floor of the reading (97)"),
    ],
)
def test_a_coarse_or_clipped_reading_forbids_a_verdict(tmp_path, reading, words) -> None:
    evaluation = evaluated(tmp_path, duplicates(TEN), method=f", reading: {reading}")
    verdict = requirement(evaluation, "s_sam_share").as_reported
    assert verdict.verdict is Verdict.NOT_SHOWN and words in verdict.reason


def test_a_censored_result_forbids_a_verdict(tmp_path) -> None:
    verdict = requirement(evaluated(tmp_path, [*duplicates(TEN), "U11,2,11,0,<50", "U11,1,11,0,100"]), "s_sam_share")
    assert verdict.as_reported.verdict is Verdict.NOT_SHOWN and "not detected" in verdict.as_reported.reason


def test_units_with_single_results_do_not_count_towards_the_ten_in_duplicate(tmp_path) -> None:
    rows = [*duplicates(TEN[:9]), "U10,1,10,0,100", "U11,1,11,0,101"]
    verdict = requirement(evaluated(tmp_path, rows), "s_sam_share").as_reported
    assert verdict.verdict is Verdict.NOT_SHOWN and "9 of 11 units were measured twice or more" in verdict.reason


def test_one_unit_on_the_later_occasion_shows_no_stability(tmp_path) -> None:
    rows = duplicates(TEN) + duplicates([(100, 101)], days=30, start=50)
    verdict = requirement(evaluated(tmp_path, rows, stability="{period: 30}"), "stability_share").as_reported
    assert verdict.verdict is Verdict.NOT_SHOWN and "one unit was measured on the later occasion" in verdict.reason


def test_every_working_gives_its_finding(tmp_path) -> None:
    rows = duplicates(TEN) + duplicates([(100, 101), (99, 100)], days=30, start=50)
    found = study(evaluated(tmp_path, rows, stability="{period: 30}")).as_reported.findings
    shown = [f for f in found if f.working is not None]
    assert len(shown) >= 9
    for finding in shown:
        assert recompute(finding.working) == pytest.approx(finding.value, rel=1e-9), finding.name


def test_the_order_of_the_rows_changes_no_figure(tmp_path) -> None:
    rows = duplicates(TEN)
    one = study(evaluated(tmp_path, rows)).as_reported.findings
    two = study(evaluated(tmp_path, rows[::-1])).as_reported.findings
    assert [f.value for f in two] == pytest.approx([f.value for f in one], rel=1e-12)
