"""Bad input ends in a message that says where, what, and how to mend it."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from validate.studies.screening.tests.screening_bench import LEVELS, NEGATIVE, POSITIVE, problems, settings


def test_a_sound_study_has_two_notices_of_missed_samples_at_most():
    assert set(problems(columns={"day": list("abcde") * 8})) <= {"positive-missed"}


def test_no_sample_at_the_target_is_an_error():
    found = problems({"0": NEGATIVE})
    assert found["no-positives"][0].severity == "error" and "target 5.0" in found["no-positives"][0].message


def test_a_negative_sample_beyond_the_cut_off_is_named_by_row_and_column():
    found = problems({"0": [*NEGATIVE[:-1], 6.5], "5": POSITIVE})
    problem = found["negative-suspect"][0]
    assert str(problem.place) == "21:found" and "6.5" in problem.message and "3.617" in problem.message


def test_a_missed_sample_at_the_target_is_named_by_row_and_column():
    found = problems(cut_off={"value": "4", "source": "earlier"})
    assert str(found["positive-missed"][0].place) == "22:found"


@pytest.mark.parametrize(("by_level", "what"), [({"0": NEGATIVE, "5": [5.0] * 6}, "samples at the target"),
                                                 ({"0": [0.0] * 6, "5": POSITIVE}, "negative samples")])  # fmt: skip
def test_equal_readings_are_told(by_level, what):
    assert f"all 6 {what}" in problems(by_level)["all-equal"][0].message


def test_fewer_than_three_samples_at_the_target_give_no_cut_off():
    found = problems({"0": NEGATIVE, "5": POSITIVE[:2]})
    assert "readings at the target: 2" in found["few-positives"][0].message
    assert "negative-suspect" not in found


def test_a_response_declared_the_wrong_way_round_is_an_error():
    problem = problems(response="inverse")["wrong-direction"][0]
    assert (str(problem.place), problem.severity) == ("response", "error")
    assert "response: proportional" in problem.mend
    assert "0.6 µg/kg" in problem.message and "5 µg/kg" in problem.message


def test_a_level_that_the_protocol_does_not_declare_is_named():
    problem = problems({**LEVELS, "2.5": [2.6]})["level-not-declared"][0]
    assert str(problem.place) == "42:level" and "2.5" in problem.message and "0, 5" in problem.message


def test_a_sample_without_level_and_reference_is_named():
    assert str(problems({**LEVELS, "": [3.3]})["no-level"][0].place) == "42:level"
    known = {"reference": [float("nan")] * 40 + [3.0]}
    assert "no-level" not in problems({**LEVELS, "": [3.3]}, columns=known)


def test_a_word_that_is_neither_yes_nor_no_is_named():
    found = problems({"0": ["no", "maybe", "No"], "5": ["YES"] * 3}, reads="decision", response=None)
    assert [str(problem.place) for problem in found["not-yes-or-no"]] == ["3:suspect"]


def test_fewer_samples_than_planned_are_told_with_both_numbers():
    found = problems({"0": NEGATIVE[:18], "5": POSITIVE})["fewer-than-planned"][0]
    assert (str(found.place), found.message) == ("design/negatives", "negative samples: 18, planned 20")


def test_negatives_with_more_than_a_fifth_of_the_target_are_told():
    assert "negatives-too-high" in problems(negatives_hold={"at_most": "1.01", "by": "x"})
    assert "negatives-too-high" not in problems(negatives_hold={"at_most": "1", "by": "x"})
    found = problems(columns={"reference": [0.1, 1.2] + [0.1] * 18 + [5.0] * 20})
    assert str(found["negatives-too-high"][0].place) == "3:reference"


def test_a_target_above_the_limit_is_told():
    assert "target-above-limit" in problems({"0": NEGATIVE, "6": POSITIVE}, target="6")


def test_days_not_recorded_or_too_few_are_told():
    design = {"negatives": "20", "positives": "20", "days": "5"}
    assert "days-not-recorded" in problems(design=design)
    assert "few-days" in problems(design=design, columns={"day": list("ab") * 20})
    assert "few-days" not in problems(design=design, columns={"day": list("abcde") * 8})


@pytest.mark.parametrize(
    "keys",
    [
        {"response": None},
        {"reads": "decision"},
        {"reads": "decision", "response": None, "cut_off": {"value": "3", "source": "x"}},
        {"target": None},
        {"target": "0"},
        {"design": {}},
        {"design": {"negatives": "20", "positives": "20", "levels": ["0"]}},
        {"design": {"negatives": "20", "positives": "20", "levels": ["5"], "replicates": "3"}},
        {"design": {"negatives": "20", "positives": "20", "compared": "6"}},
        {"design": {"negatives": "20"}, "curve": {"model": "logit"}},
    ],
)
def test_combinations_that_mean_nothing_are_refused(keys):
    with pytest.raises(ValidationError):
        settings(**keys)


def test_nothing_at_all_ends_in_messages_and_no_failure():
    from validate.studies.screening.tests.screening_bench import evaluate

    for rows in ({}, {"0": [], "5": []}, {"0": [""], "5": [""]}):
        assert "no-positives" in problems(rows) or rows.get("5") == [""]
        result = evaluate(rows)
        assert all(finding.value is None for finding in result.findings if finding.name.startswith(("cut", "false")))
