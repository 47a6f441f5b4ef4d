"""What a laboratory is told before a precision study is evaluated."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from validate.studies.precision.checking import PROBLEMS
from validate.studies.precision.tests.precision_bench import (
    DAYS,
    ONE_WAY,
    crossed,
    evaluate,
    grouped,
    nested,
    problems,
    settings,
)
from validate.vocabulary.problem import ERROR, NOTICE


def codes(*arguments: Any, **more: Any) -> list[str]:
    return [problem.code for problem in problems(*arguments, **more)]


TWO = {"result": [1.0, 1.1, 1.2, 1.4, 0.9, 1.3, 1.0, 1.2], "day": list("11112222"), "run": list("11221122")}


def test_a_sound_study_has_no_problem() -> None:
    assert codes(grouped(DAYS)) == []


def test_a_study_without_a_table_is_checked_for_its_settings_only() -> None:
    assert codes(None) == []


@pytest.mark.parametrize(
    ("groups", "reason"),
    [([(1.0, 1.1, 1.2)], "1 day, at least 2"), ([(1.0,), (1.1,), (1.2,)], "none has a second result")],
)
def test_a_study_that_can_give_no_figure_is_refused(groups: Any, reason: str) -> None:
    (unusable,) = (p for p in problems(grouped(groups)) if p.code == "no-usable-level")
    assert unusable.severity == ERROR and reason in unusable.message


def test_an_empty_table_is_refused() -> None:
    assert codes({"result": [], "day": []}) == ["no-results"]


def test_a_level_without_enough_results_is_told_but_not_refused() -> None:
    columns = grouped(DAYS) | {"level": ["5"] * 8 + ["9"] * 2}
    (told,) = problems(columns, ONE_WAY | {"levels": ["5", "9"]})
    assert (told.code, told.severity) == ("level-unusable", NOTICE)
    assert str(told.place) == "design/levels/1"


def test_a_missing_level_is_named() -> None:
    columns = grouped(DAYS) | {"level": ["5"] * 10}
    (told,) = problems(columns, ONE_WAY | {"levels": ["5", "9"]})
    assert "9: no results" in told.message


def test_levels_that_the_protocol_does_not_declare_are_never_pooled() -> None:
    columns = grouped(DAYS) | {"level": ["5"] * 6 + ["9"] * 4}
    assert codes(columns) == ["levels-not-declared"]
    (wrong,) = (p for p in problems(columns, ONE_WAY | {"levels": ["5"]}) if p.code == "undeclared-level")
    assert str(wrong.place) == "precision.csv:8:level"


def test_a_result_without_its_group_is_pointed_at() -> None:
    columns = grouped(DAYS)
    columns["day"][3] = ""
    (told,) = problems(columns)
    assert (told.code, str(told.place)) == ("label-missing", "precision.csv:5:day")


def test_reused_inner_labels_are_told_and_taken_as_different() -> None:
    assert codes(TWO, nested()) == ["nested-labels-reused"]
    unique = TWO | {"run": [d + r for d, r in zip(TWO["day"], TWO["run"], strict=True)]}
    assert codes(unique, nested()) == []
    plain, spelled = (evaluate(columns, nested()).finding("s_intermediate").value for columns in (TWO, unique))
    assert plain == spelled


def test_empty_cells_of_a_crossing_are_told() -> None:
    columns = {name: column[:6] for name, column in TWO.items()}
    assert codes(columns, crossed("day", "run")) == ["crossing-incomplete"]


def test_a_crossing_without_repeated_results_is_told() -> None:
    columns = {name: column[::2] for name, column in TWO.items()}
    assert codes(columns, crossed("day", "run")) == ["crossing-not-repeated"]


def test_a_constant_factor_cannot_be_crossed() -> None:
    assert "no-usable-level" in codes(TWO | {"run": ["1"] * 8}, crossed("day", "run"))


def test_one_inner_group_in_every_outer_group_is_refused_as_nested() -> None:
    (refused,) = (p for p in problems(TWO | {"run": ["1"] * 8}, nested()) if p.code == "no-usable-level")
    assert "every day holds a single run" in refused.message


def test_a_criterion_on_a_figure_of_another_design_is_refused_with_those_it_gives() -> None:
    bound = {"at_most": "20", "source": "own", "judge_by": "estimate", "reason": "x"}
    (told,) = problems(grouped(DAYS), accept={"s_reproducibility": bound})
    assert told.code == "finding-of-another-design" and "s_intermediate" in told.mend


def test_a_claim_at_an_undeclared_level_is_refused() -> None:
    assert codes(grouped(DAYS), claimed={"s_r": {"7": "0.1"}, "source": "x"}) == ["claim-at-unknown-level"]


@pytest.mark.parametrize(
    ("design", "words"),
    [
        (ONE_WAY | {"inner": [{"column": "run", "called": "run"}]}, "no inner factor"),
        (nested() | {"inner": []}, "exactly one inner factor"),
        (crossed("day"), "one or two inner factors"),
        (crossed("day", "cask"), "conditions within one laboratory"),
        (nested("day", "cask"), "cask cannot be nested in day"),
        (nested("day", "day"), "column of its own"),
        ({"kind": "one-way", "outer": {"column": "result", "called": "day"}}, "column of its own"),
        (ONE_WAY | {"levels": ["5", "5.0"]}, "stands once"),
    ],
)
def test_a_design_that_is_none_is_refused(design: dict[str, Any], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        settings(design)


@pytest.mark.parametrize("claimed", ["0", "-1", {}, {"5": "x"}])
def test_a_claimed_standard_deviation_is_a_positive_number(claimed: Any) -> None:
    with pytest.raises(ValidationError):
        settings(ONE_WAY, claimed={"s_r": claimed, "source": "x"})


def test_a_claim_is_recorded_as_it_was_written() -> None:
    one = settings(ONE_WAY, claimed={"s_r": "0.3", "source": "x"})
    several = settings(ONE_WAY, claimed={"s_r": {"5.0": "0.3"}, "source": "x"})
    assert one.model_dump()["claimed"]["s_r"] == 0.3
    assert several.model_dump()["claimed"]["s_r"] == {"5": 0.3}


def test_every_problem_of_the_catalogue_says_what_to_do() -> None:
    assert [code for code, entry in PROBLEMS.entries.items() if not entry.get("mend")] == []
