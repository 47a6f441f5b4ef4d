"""What `check` tells before anything is computed."""

from __future__ import annotations

import pytest

from validate.studies.linearity.checking import PROBLEMS
from validate.studies.linearity.tests.linearity_bench import X, Y, own, problems
from validate.vocabulary.problem import ERROR, NOTICE

FIVE = ("1", "2", "5", "10", "20")


def test_a_sound_study_has_no_problem() -> None:
    assert problems(X, Y) == {}


def test_one_level_makes_no_line() -> None:
    found = problems(levels=("5",))["one-level"]
    assert (found.severity, str(found.place)) == (ERROR, "design/levels")
    assert "set points" in found.mend


def test_two_levels_always_lie_on_a_line() -> None:
    assert problems(levels=("5", "10"))["two-points"].severity == ERROR


def test_equal_levels_in_the_table_are_refused() -> None:
    found = problems([5] * 4, [1.0, 1.1, 1.2, 1.3], levels=FIVE)["equal-x"]
    assert (found.severity, "1 different levels (5)" in found.message) == (ERROR, True)


def test_equal_readings_are_refused() -> None:
    assert "every reading is 3" in problems(X, [3.0] * 12)["equal-readings"].message


def test_negative_signal_is_refused_at_its_cell() -> None:
    found = problems(X, [-0.1, *Y[1:]])["negative-signal"]
    assert (found.severity, str(found.place)) == (ERROR, "2:signal")
    assert "negative-signal" not in problems(X, [-0.1, *Y[1:]], signal={"blank_subtracted": "yes"})


@pytest.mark.parametrize("weights", ["1/x", "1/x^2"])
def test_level_zero_has_no_relative_weight(weights: str) -> None:
    found = problems(levels=("0", *FIVE), weights=weights)["no-weight-at-zero"]
    assert (found.severity, str(found.place)) == (ERROR, "design/levels/0")
    assert "weight_floor: 1" in found.mend and "variance function" in found.mend
    assert "no-weight-at-zero" not in problems(levels=("0", *FIVE), weights=weights, weight_floor="1")


def test_few_levels_are_told_before_the_work() -> None:
    found = problems(levels=("0", "1", "5", "10"))["few-levels"]
    assert (found.severity, "3 levels above 0" in found.message) == (NOTICE, True)


def test_single_readings_are_told_where_a_verdict_is_wanted() -> None:
    design = {"replicates": "1"}
    assert "no-replicates" in problems(levels=FIVE, design=design, accept=own("largest_deviation", at_most="10"))
    assert "no-replicates" not in problems(levels=FIVE, design=design)


def test_weights_by_function_need_their_function() -> None:
    assert "function-missing" in problems(levels=FIVE, weights="variance function")
    function = {"constant": "1", "relative_percent": "5"}
    assert "function-unused" in problems(levels=FIVE, variance_function=function)
    assert "floor-unused" in problems(levels=FIVE, weight_floor="1")


def test_deviation_with_one_bound_would_pass_on_the_other_side() -> None:
    found = problems(levels=FIVE, accept=own("deviation", at_most="5"))["one-sided"]
    assert found.mend == "write `between: [-5, 5]`"


def test_levels_of_the_table_must_be_declared() -> None:
    found = problems([*X, 7], [*Y, 14.0], levels=("1", "2", "5", "10", "20", "40"))["level-not-declared"]
    assert (str(found.place), "level 7" in found.message) == ("14:level", True)


def test_level_without_readings_and_missing_replicates_are_told() -> None:
    found = problems(X[:-3], Y[:-3], levels=("1", "2", "5", "10", "20", "40"))
    assert "level 40" in found["level-without-readings"].message
    assert "1 readings at level 20, 2 were planned" in found["fewer-than-planned"].message


def test_keys_of_another_form_are_refused() -> None:
    assert "allowed" in problems(levels=FIVE, allowed={"5": ["4", "6"]})["key-of-other-form"].message
    shown = problems(levels=FIVE, form="found against nominal", read_back=["3"])
    assert "read_back" in shown["key-of-other-form"].message


def test_allowed_range_belongs_to_a_declared_set_point() -> None:
    found = problems(levels=("5", "20"), form="set points", allowed={"6": ["5", "7"]})
    assert set(found) == {"allowed-level"}


def test_every_problem_of_the_catalogue_has_words() -> None:
    assert all(entry["title"] and entry["message"] and entry["mend"] for entry in PROBLEMS.entries.values())
