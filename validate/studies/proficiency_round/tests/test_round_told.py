"""What a round tells instead of hiding it."""

from __future__ import annotations

import numpy as np
import pytest

from validate.studies.proficiency_round.tests.round_bench import (
    USUAL,
    long_table,
    problems,
    remarks,
    round_of,
    scores,
    written,
)

RNG = np.random.default_rng(20310303)
X = RNG.normal(100, 8, 30)
TWO = """    samples: [A, B]
    assigned_value: {by: algorithm A, fallbacks: ['median, MADe']}
    sigma_pt: {by: prescribed, percent: 10, source: test}
"""


def laboratories(values, first=1):
    return {f"L{i:02d}": [f"{x:.2f}"] for i, x in enumerate(values, start=first)}


def with_column(table, name):
    """The table with an empty column at its end."""
    head, *lines = table.splitlines()
    return "\n".join([f"{head},{name}", *(f"{line}," for line in lines)]) + "\n"


def table_rows(study, name):
    return next((t.rows for t in study.as_reported.tables if t.name == name), ())


def test_eleven_laboratories_are_a_weak_consensus(tmp_path):
    assert "consensus is weak" in remarks(round_of(written(tmp_path, long_table(laboratories(X[:11])))))


def test_four_laboratories_give_no_consensus_and_no_scores(tmp_path):
    study = round_of(written(tmp_path, long_table(laboratories(X[:4]))))
    assert "No assigned value by algorithm A: 4 results found, at least 5 needed" in remarks(study)
    assert all(line["z"] is None for line in scores(study).values())


def test_two_populations_are_told_with_bootstrap_evidence(tmp_path):
    values = np.concatenate((X[:15], X[15:] + 60))
    assert "two modes" in remarks(round_of(written(tmp_path, long_table(laboratories(values)))))


def test_a_method_that_differs_from_all_others_is_told(tmp_path):
    lines = ["laboratory,sample,result,method"]
    lines += [
        f"L{i:02d},A,{x + (30 if i % 3 == 0 else 0):.2f},{'strip' if i % 3 == 0 else 'column'}" for i, x in enumerate(X)
    ]
    study = round_of(written(tmp_path, "\n".join(lines) + "\n"))
    assert 'use "strip" differ from the others' in remarks(study)
    groups = {row[1]: row for row in table_rows(study, "methods")}
    assert groups["strip"][5] == pytest.approx(30, abs=8)


def test_many_equal_results_are_told(tmp_path):
    values = [100.0] * 12 + list(X[:18])
    assert "12 of 30 laboratories report 100" in remarks(round_of(written(tmp_path, long_table(laboratories(values)))))


def test_limits_are_never_zero_and_are_told_by_what_they_contradict(tmp_path):
    results = {**laboratories(X), "M1": ["<20"], "M2": ["<90"]}
    settings = USUAL.replace("algorithm A", "'median, MADe'")
    study = round_of(written(tmp_path, long_table(results), settings))
    found = scores(study)
    assert (found["M1", "A"]["result"], found["M1", "A"]["outcome"]) == ("<20", "false low")
    assert found["M2", "A"]["outcome"] == "questionable"
    assert "M1: a limit far below" in remarks(study)


def test_a_limit_above_the_value_is_not_scored(tmp_path):
    study = round_of(written(tmp_path, long_table({**laboratories(X), "M1": ["<500"]})))
    assert scores(study)["M1", "A"]["outcome"] == "not scored"


def test_not_detected_takes_the_limit_of_quantification_of_its_laboratory(tmp_path):
    table = with_column(long_table(laboratories(X)), "loq") + "M1,A,n.d.,30\n"
    assert scores(round_of(written(tmp_path, table)))["M1", "A"]["outcome"] == "false low"


def test_five_percent_of_limits_send_a_consensus_to_its_declared_fallback(tmp_path):
    results = {code: [v[0], v[0]] for code, v in laboratories(X).items()} | {"M1": ["<20", "90"], "M2": ["<20", "95"]}
    study = round_of(written(tmp_path, long_table(results, "A", "B"), TWO))
    assert "A: algorithm A could not be used; median, MADe, the fallback" in remarks(study)
    assert scores(study)["L01", "A"]["z"] is not None


def test_a_result_ten_times_too_small_is_a_suspicion_and_stays_in_the_scores(tmp_path):
    study = round_of(written(tmp_path, long_table({**laboratories(X), "M1": ["9.9"]})))
    assert table_rows(study, "suspicions") == (
        ("M1", "A", "a result 10 times larger would be acceptable: decimal point, dilution or unit?"),
    )
    assert scores(study)["M1", "A"]["outcome"] == "action signal"


def test_exchanged_samples_are_a_suspicion(tmp_path):
    results = {code: [v[0], f"{2 * float(v[0]):.2f}"] for code, v in laboratories(X).items()}
    results["M1"] = ["203", "99"]
    suspected = table_rows(round_of(written(tmp_path, long_table(results, "A", "B"), TWO)), "suspicions")
    assert {row[:2] for row in suspected} == {("M1", "A"), ("M1", "B")}
    assert all("exchanged?" in row[2] for row in suspected)


def test_uncertainties_nobody_can_believe_are_listed(tmp_path):
    lines = ["laboratory,sample,result,uncertainty,k"]
    lines += [f"L{i:02d},A,{x:.2f},16,2" for i, x in enumerate(X)]
    lines += ["M1,A,101,0.2,2", "M2,A,99,90,2"]
    study = round_of(written(tmp_path, "\n".join(lines) + "\n"))
    assert [row[0] for row in table_rows(study, "uncertainties")] == ["M1", "M2"]


def test_an_uncertainty_without_k_is_read_with_two_and_told(tmp_path):
    table = "laboratory,sample,result,uncertainty\n" + "".join(f"L{i},A,{x:.2f},16\n" for i, x in enumerate(X))
    assert "came without k: 2 was assumed" in remarks(round_of(written(tmp_path, table)))


def test_comments_of_laboratories_are_in_no_result_unless_the_protocol_says_so(tmp_path):
    table = with_column(long_table(laboratories(X)), "comment") + "M1,A,101,kit was old\n"
    silent, shown = tmp_path / "silent", tmp_path / "shown"
    silent.mkdir(), shown.mkdir()
    assert "kit was old" not in repr(round_of(written(silent, table)))
    assert "kit was old" in repr(round_of(written(shown, table, "    show_comments: yes\n" + USUAL)))


BAD = [
    ("laboratory,sample,result\nL1,A,1\nL1,A,2\n", "round-twice", "results.csv:3:1"),
    ("laboratory,sample,result,unit\nL1,A,1,mg/L\nL2,A,2,\n", "round-unit", "results.csv:2:4"),
    ("laboratory,sample,result\nL1,A,5\n", "round-one-laboratory", "results.csv:2:1"),
    ("laboratory,sample,result\nL1,A,<5\nL2,A,<5\n", "round-no-number", "results.csv:2:3"),
    ("laboratory,sample,result\nL1,A,5\nL2,Z,6\n", "round-undeclared", "results.csv:3:2"),
    ("laboratory,sample,result\nL1,A,-5\nL2,A,6\n", "round-negative", "results.csv:2:3"),
    ("laboratory,sample,result\nL1,A,inf\nL2,A,6\n", "cell-not-finite", "results.csv:2:3"),
    ("laboratory,sample,result\n" + "L" * 60 + ",A,5\nL2,A,6\n", "round-long-code", "results.csv:2:1"),
]


@pytest.mark.parametrize(("table", "code", "place"), BAD)
def test_bad_input_ends_in_a_message_with_its_place(tmp_path, table, code, place):
    told = problems(written(tmp_path, table))
    assert code in told, told
    assert place in told[code]


def test_equal_results_everywhere_are_told_and_give_no_scores(tmp_path):
    folder = written(tmp_path, long_table(laboratories([7.0] * 20)))
    assert "round-all-equal" in problems(folder)
    assert all(line["z"] is None for line in scores(round_of(folder)).values())


def test_a_missing_sigma_is_refused_where_it_should_stand(tmp_path):
    folder = written(tmp_path, long_table(laboratories(X)), "    samples: [A]\n    assigned_value: {by: algorithm A}\n")
    from validate.vocabulary.problem import InputRefused

    with pytest.raises(InputRefused, match="sigma_pt"):
        problems(folder)


def test_a_predicted_sigma_needs_a_mass_fraction(tmp_path):
    settings = "    samples: [A]\n    assigned_value: {by: algorithm A}\n    sigma_pt: {by: horwitz}\n"
    assert "round-unit-is-no-mass-fraction" in problems(
        written(tmp_path, "laboratory,sample,result\nL1,A,1\nL2,A,2\n", settings, unit="ng/mL")
    )


@pytest.mark.parametrize(("laboratories", "code"), [(12, "round-design-short"), (20, "round-design-enough")])
def test_before_the_round_the_check_says_what_its_size_can_decide(tmp_path, laboratories, code):
    """1.25/√p ≤ 0.3 from 18 laboratories on, if they scatter as σ_pt allows."""
    folder = written(tmp_path, "x", f"    laboratories: {laboratories}\n" + USUAL)
    text = (folder / "protocol.yaml").read_text().replace("    data: {file: results.csv}\n", "")
    (folder / "protocol.yaml").write_text(text)
    told = problems(folder)
    assert "18" in told[code] and "fallbacks: none" in told[code]


def test_a_file_that_is_no_evaluation_is_refused_as_an_earlier_round(tmp_path):
    folder = written(tmp_path, long_table(laboratories(X)), "    earlier_rounds: [past.json]\n" + USUAL)
    (folder / "past.json").write_text('{"studies": [{"kind": "proficiency_round", "as_reported": {"facts": 3}}]}')
    assert "not in the form" in problems(folder)["round-earlier-unread"]
