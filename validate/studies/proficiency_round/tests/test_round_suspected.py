"""Blunders as suspicions, limits that contradict, and what a laboratory is asked on its own page."""

from __future__ import annotations

import numpy as np
import pytest

from validate.studies.proficiency_round.tests.round_bench import USUAL, long_table, remarks, round_of, scores, written
from validate.studies.proficiency_round.tests.test_round_pages import pages

X = np.random.default_rng(20310303).normal(100, 8, 30)
SOUND = {f"L{i:02d}": [f"{x:.2f}"] for i, x in enumerate(X, start=1)}


@pytest.mark.parametrize(
    ("result", "words"),
    [
        ("1010", "a result 10 times smaller"),
        ("0.099", "a result 1000 times larger"),
        ("99000", "a result 1000 times smaller"),
        ("1.02", "a result 100 times larger"),
    ],
)
def test_a_decimal_point_a_dilution_or_a_unit_is_suspected(tmp_path, result, words):
    study = round_of(written(tmp_path, long_table({**SOUND, "M1": [result]})))
    (suspicion,) = next(t.rows for t in study.as_reported.tables if t.name == "suspicions")
    assert suspicion[0] == "M1" and words in suspicion[2] and "unit?" in suspicion[2]
    assert "1 result looks like a blunder" in remarks(study)


def test_an_action_signal_that_no_factor_explains_is_no_suspicion(tmp_path):
    study = round_of(written(tmp_path, long_table({**SOUND, "M1": ["180"]})))
    assert scores(study)["M1", "A"]["outcome"] == "action signal"
    assert not [t for t in study.as_reported.tables if t.name == "suspicions"]


def test_a_limit_that_is_exceeded_far_above_the_value_is_false_high(tmp_path):
    settings = USUAL.replace("algorithm A", "'median, MADe'")
    study = round_of(written(tmp_path, long_table({**SOUND, "M1": [">200"]}), settings))
    assert scores(study)["M1", "A"]["outcome"] == "false high"
    assert "M1: a limit far" in remarks(study)


def test_a_laboratory_reads_on_its_own_page_what_looks_wrong_and_nobody_else_does(tmp_path):
    table = "laboratory,sample,result,uncertainty,k\n"
    table += "".join(f"{code},A,{x[0]},16,2\n" for code, x in SOUND.items()) + "M1,A,9.9,90,2\n"
    found, _ = pages(written(tmp_path, table))
    own = found["Results of laboratory M1"]
    assert "Questions to you" in own and "decimal point, dilution or unit?" in own
    assert "more than 1.5 times the spread of all laboratories" in own
    assert not [title for title, page in found.items() if "Questions to you" in page and "M1" not in title]
