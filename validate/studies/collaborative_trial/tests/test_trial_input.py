"""What is told before a collaborative trial is evaluated, and what never carries a verdict."""

from __future__ import annotations

import pytest

from validate.studies.collaborative_trial.tests.trial_bench import SOUND, evaluated, problems, result, rows_of
from validate.vocabulary.problem import ERROR, NOTICE
from validate.vocabulary.verdict import Verdict

COUNTS = "{kind: binary, levels: [50]}"
SPLIT = "{kind: split, levels: [50]}"


def told(folder, rows, *more, **keys) -> list[tuple[str, str]]:
    """Code and place within the folder of every problem."""
    return [(p.code, str(p.place).rsplit("/", 1)[-1]) for p in problems(folder, rows, *more, **keys)]


def test_a_sound_table_has_no_problem(tmp_path) -> None:
    assert told(tmp_path, rows_of(SOUND)) == []


def test_a_laboratory_twice_in_a_cell_is_told_with_both_rows(tmp_path) -> None:
    (problem,) = problems(tmp_path, [*rows_of(SOUND), "C,50,2,51"])
    assert (problem.code, problem.severity) == ("twice-in-a-cell", ERROR)
    assert str(problem.place).endswith("trial.csv:18:1")
    assert "laboratory C, level 50, replicate 2 stands already in row 7" in problem.message


def test_a_laboratory_twice_on_a_sample_of_a_split_level_is_told(tmp_path) -> None:
    rows = [f"{lab},50,{s},{50 + i}" for i, lab in enumerate("ABC") for s in "XY"]
    found = told(tmp_path, [*rows, "B,50,Y,57"], SPLIT, header="laboratory,level,sample,result")
    assert found == [("twice-in-a-cell", "trial.csv:8:1")]


def test_a_laboratory_twice_with_its_counts_is_told(tmp_path) -> None:
    rows = ["A,50,7,12", "B,50,8,12", "A,50,9,12"]
    assert told(tmp_path, rows, COUNTS, header="laboratory,level,positive,total") == [
        ("twice-in-a-cell", "trial.csv:4:1")
    ]


def test_one_laboratory_is_refused(tmp_path) -> None:
    found = problems(tmp_path, rows_of([[50, 51, 52]]))
    assert ("one-laboratory", ERROR) in [(p.code, p.severity) for p in found]


def test_an_unknown_level_is_pointed_at_by_its_first_cell(tmp_path) -> None:
    assert ("unknown-level", "trial.csv:18:2") in told(tmp_path, [*rows_of(SOUND), *rows_of(SOUND, "70")])


@pytest.mark.parametrize("text", ["NaN", "inf", "-inf", "1e999"])
def test_what_is_no_finite_number_is_refused_with_row_and_column(tmp_path, text) -> None:
    assert any(place == "trial.csv:18:4" for _, place in told(tmp_path, [*rows_of(SOUND), f"I,50,1,{text}"]))


def test_a_result_without_its_laboratory_is_pointed_at(tmp_path) -> None:
    assert any(place == "trial.csv:18:1" for _, place in told(tmp_path, [*rows_of(SOUND), ",50,1,51"]))


@pytest.mark.parametrize("counts", ["13,12", "2.5,12", "3,0"])
def test_detections_that_are_no_count_are_refused(tmp_path, counts) -> None:
    found = told(tmp_path, ["A,50,7,12", f"B,50,{counts}"], COUNTS, header="laboratory,level,positive,total")
    assert ("not-a-count", "trial.csv:3:3") in found


def test_a_third_sample_of_a_split_level_is_told(tmp_path) -> None:
    rows = [f"{lab},50,{s},{50 + i}" for i, lab in enumerate("ABC") for s in "XYZ"]
    assert "not-two-samples" in [
        code for code, _ in told(tmp_path, rows, SPLIT, header="laboratory,level,sample,result")
    ]


def test_a_laboratory_with_half_a_pair_is_told_at_its_row(tmp_path) -> None:
    rows = [f"{lab},50,{s},{50 + i}" for i, lab in enumerate("AB") for s in "XY"]
    found = told(tmp_path, [*rows, "C,50,Y,52"], SPLIT, header="laboratory,level,sample,result")
    assert ("half-a-pair", "trial.csv:6:3") in found and "few-pairs" in dict(found)


def test_a_laboratory_with_one_binary_result_is_told_and_leaves_the_level_without_figures(tmp_path) -> None:
    rows, header = ["A,50,7,12", "B,50,1,1", "C,50,6,12"], "laboratory,level,positive,total"
    assert ("single-portion", "trial.csv:3:1") in told(tmp_path, rows, COUNTS, header=header)
    reason = result(tmp_path, rows, COUNTS, header=header).finding("lpod", "50").reason
    assert reason.startswith("one result only of laboratory B")


def test_differing_laboratories_near_no_detection_are_told_beside_the_limits_of_lpod(tmp_path) -> None:
    rows = [f"{lab},50,{x},12" for lab, x in zip("ABCDEF", (6, 0, 0, 0, 0, 0), strict=True)]
    found = result(tmp_path, rows, COUNTS, header="laboratory,level,positive,total")
    assert any("too narrow" in remark.text for remark in found.remarks if remark.kind == "warning")


@pytest.mark.parametrize(("results", "code"), [((0,), "no-replicates"), ((0, 1), "one-run")])
def test_one_run_in_each_laboratory_gives_no_components_and_says_why(tmp_path, results, code) -> None:
    rows = [f"{lab},50,1,{x + k}" for lab, (x, _) in zip("ABCDEFGH", SOUND, strict=True) for k in results]
    design, header = "{levels: [50], runs: 1}", "laboratory,level,run,result"
    assert [p.code for p in problems(tmp_path, rows, design, header=header)] == [code]
    reason = result(tmp_path, rows, design, header=header).finding("s_r", "50").reason
    assert reason.startswith("no laboratory has two runs")


def test_runs_of_single_results_give_no_repeatability_and_say_why(tmp_path) -> None:
    rows = [f"{lab},50,{k},{x + k}" for lab, (x, _) in zip("ABCDEFGH", SOUND, strict=True) for k in (1, 2)]
    found = result(tmp_path, rows, "{levels: [50], runs: 2}", header="laboratory,level,run,result")
    assert found.finding("s_r", "50").reason == "no run has a second result: repeatability is not known"


def test_a_criterion_on_a_figure_of_another_design_is_refused(tmp_path) -> None:
    accept = "{lpod: {at_least: 0.9, judge_by: estimate, source: own, reason: test}}"
    assert [code for code, _ in told(tmp_path, rows_of(SOUND), accept=accept)] == ["finding-of-another-design"]


@pytest.mark.parametrize(
    "design",
    [
        "{levels: []}",
        "{levels: [50, 50]}",
        "{kind: split, levels: [50], replicates: 2}",
        "{kind: binary, levels: [50], runs: 2}",
    ],
)
def test_a_design_that_cannot_be_is_refused(tmp_path, design) -> None:
    assert [p for p in problems(tmp_path, rows_of(SOUND), design) if p.severity == ERROR]


ACCEPT = "{s_r: {at_most: 5, judge_by: estimate, source: own, reason: test}}"


def test_results_that_are_all_equal_show_nothing(tmp_path) -> None:
    rows = rows_of([[50, 50]] * 8)
    assert [(p.code, p.severity) for p in problems(tmp_path, rows) if p.code == "all-equal"] == [("all-equal", NOTICE)]
    (judged,) = evaluated(tmp_path, rows, accept=ACCEPT).requirements
    assert (
        judged.as_reported.verdict is Verdict.NOT_SHOWN
        and "all compared results are equal" in judged.as_reported.reason
    )


def test_equal_results_leave_h_k_and_the_tests_undefined_with_the_reason(tmp_path) -> None:
    found = result(tmp_path, rows_of([[50, 50]] * 8))
    tables = {t.name: t for t in found.tables}
    assert "h and k are not defined" in tables["consistency"].note
    assert {row[-1] for row in tables["screening"].rows} == {
        "not tested: all standard deviations are 0",
        "not tested: all cell means are equal",
    }


def test_a_censored_result_forbids_a_verdict(tmp_path) -> None:
    (judged,) = evaluated(tmp_path, [*rows_of(SOUND), "I,50,1,<20"], accept=ACCEPT).requirements
    assert judged.as_reported.verdict is Verdict.NOT_SHOWN and "not detected" in judged.as_reported.reason


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        ("{resolution: 10}", "below half the resolution of the reading (10 µg/kg)"),
        ("{floor: 49}", "2 of 16 results stand at the floor of the reading (49)"),
    ],
)
def test_a_coarse_or_clipped_reading_forbids_a_verdict(tmp_path, reading, words) -> None:
    (judged,) = evaluated(tmp_path, rows_of(SOUND), accept=ACCEPT, method=f", reading: {reading}").requirements
    assert judged.as_reported.verdict is Verdict.NOT_SHOWN and words in judged.as_reported.reason


def test_single_results_have_no_repeatability_and_say_so(tmp_path) -> None:
    found = problems(tmp_path, rows_of([[x] for x, _ in SOUND]))
    assert [(p.code, p.severity) for p in found] == [("no-replicates", NOTICE)]
    reason = result(tmp_path, rows_of([[x] for x, _ in SOUND])).finding("s_r", "50").reason
    assert reason.startswith("level 50: 8 results found in 8 laboratories")


def test_a_level_without_results_is_missing_and_the_others_are_not(tmp_path) -> None:
    found = result(tmp_path, rows_of(SOUND), "{levels: [50, 70]}")
    assert found.finding("s_r", "70").value is None and found.finding("s_r", "50").value > 0
