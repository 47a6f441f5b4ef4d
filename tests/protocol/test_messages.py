"""What a message says: the value seen, what is expected, how to mend it."""

import pytest

HEAD = """\
format: 1
id: T-1
title: A test
issued: 2031-03-03
laboratory: Alder Ridge Growers' Laboratory (fictional)
purpose: validation
intended_use: quantitative
method: {measurand: ochratoxin A, matrix: green coffee, unit: µg/kg, scope: {from: 1, to: 40}}
"""


def only_problem(loaded):
    (problem,) = loaded.problems
    return f"{problem.place.line}:{problem.place.column}  {problem.message}\n{problem.mend}"


def of_study(load, keys):
    return only_problem(
        load(f"{HEAD}studies:\n  in-coffee:\n    kind: spiked\n    contamination: before extraction\n    {keys}\n")
    )


DESIGN = "design: {levels: [1, 5], replicates: 6}"


@pytest.mark.parametrize(
    ("keys", "message"),
    [
        (
            f"{DESIGN}\n    minimum_desing: [a]",
            '14:5  unknown key "minimum_desing" in study "in-coffee"\ndid you mean "minimum_design"?',
        ),
        (
            f"{DESIGN}\n    Native: 0.1",
            '14:5  unknown key "Native" in study "in-coffee"\ndid you mean "native"?',
        ),
        (
            f"{DESIGN}\n    replicats: 6",
            '14:5  unknown key "replicats" in study "in-coffee"\ndid you mean "replicates" under "design"?',
        ),
        (
            f"{DESIGN}\n    zzz: 6",
            '14:5  unknown key "zzz" in study "in-coffee"\n'
            "what can stand here: title, data, intended_use, accept, minimum_design, native",
        ),
        (
            "design: {levels: [1, 5]}",
            '13:5  the key "replicates" is missing in "design" of study "in-coffee"\n'
            "write `replicates:` with its value",
        ),
        (
            "design: {levels: [1, '2,5'], replicates: 6}",
            '13:26  "2,5" for entry 2 of "levels" of study "in-coffee" is not a number\ndecimal comma? write 2.5',
        ),
        (
            "design: {levels: [1, 5], replicates: six}",
            '13:42  "six" for "replicates" under "design" of study "in-coffee" does not fit: '
            "a whole number is expected\n"
            "write it in digits, at most 999999",
        ),
        (
            f"{DESIGN}\n    native: low",
            '14:13  "low" does not fit "native" of study "in-coffee": a number with a decimal point is expected; '
            "or input should be a valid dictionary or instance of Fixed\nuse one of these forms",
        ),
        (
            f"{DESIGN}\n    accept: {{rsd_r: {{at_most: 20 %, source: own, judge_by: interval, reason: agreed}}}}",
            '14:31  "20 %" for "at_most" under "rsd_r" of study "in-coffee" is not a number\n'
            "write one number alone, without a unit or sign behind it, for example 20",
        ),
    ],
)
def test_a_message_names_the_value_its_key_and_how_to_mend_it(load, keys, message):
    assert of_study(load, keys) == message


def test_a_repeated_key_names_both_places(load):
    loaded = load(f"{HEAD}id: T-2\nstudies: {{first: {{kind: grouped, days: 6}}}}\n")
    assert (
        only_problem(loaded)
        == f'9:1  the key "id" stands twice; it stood first at {loaded.shown}:2:1\nkeep one of them'
    )


def test_an_unknown_kind_offers_the_nearest_and_nothing_else_of_the_study_is_doubted(load):
    loaded = load(f"{HEAD}studies: {{first: {{kind: groupd, days: 6}}}}\n")
    assert only_problem(loaded) == '9:25  unknown kind of study "groupd"\ndid you mean "grouped"?'


def test_values_of_a_kind_that_do_not_fit_together_are_told_in_its_words(load):
    loaded = load(f"{HEAD}studies: {{first: {{kind: grouped, days: 6, runs: 5}}}}\n")
    assert "there are fewer runs than days" in only_problem(loaded)


@pytest.mark.parametrize(
    ("unit", "mend"), [("MG/KG", 'did you mean "mg/kg"?'), ("florin", "write for example µg/kg, mg/kg, ng/mL or %")]
)
def test_an_unknown_unit_offers_the_one_that_differs_in_capitals_alone(load, unit, mend):
    loaded = load(f"{HEAD.replace('µg/kg', unit)}studies: {{first: {{kind: grouped, days: 6}}}}\n")
    assert only_problem(loaded) == f'8:63  "{unit}" for "unit" under "method" is not a unit that is known here\n{mend}'


def test_a_long_value_is_shortened(load):
    message = only_problem(load(f"{HEAD}runs: {'x' * 5000}.csv\nstudies: {{first: {{kind: grouped, days: 6}}}}\n"))
    assert len(message) < 500


def test_too_long_and_too_many_are_told(load):
    levels = ", ".join(str(n % 40 + 1) for n in range(51))
    loaded = load(
        f"{HEAD}supersedes: {'x' * 2001}\nstudies:\n  first: {{kind: spiked, contamination: before extraction, "
        f"design: {{levels: [{levels}], replicates: 2}}}}\n"
    )
    assert [problem.code for problem in loaded.problems] == ["too-long", "too-many-entries"]


def test_a_type_of_the_model_library_without_words_of_ours_still_makes_a_message(tmp_path):
    from typing import Literal

    from validate.protocol.loading import load_protocol
    from validate.protocol.settings import StudySettings

    class Plain(StudySettings):
        kind: Literal["plain"]
        share: float

    path = tmp_path / "protocol.yaml"
    path.write_text(f"{HEAD}studies: {{first: {{kind: plain, share: half}}}}\n", encoding="utf-8")
    (problem,) = load_protocol(path, {"plain": Plain}).problems
    assert problem.code == "wrong-value"
    assert problem.message.startswith('"half" does not fit "share" of study "first": input should be a valid number')
