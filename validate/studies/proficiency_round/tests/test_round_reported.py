"""The coded report of the demo says what ISO/IEC 17043 lists for a round (7.4.3, number and list from memory)."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from validate.pipeline import evaluate, prepare
from validate.pipeline.rendering import render_page
from validate.provenance.page_text import page_text
from validate.studies.proficiency_round.tests.round_bench import round_of, written

WHEAT = Path(__file__).parents[4] / "protocols" / "wheat"


@pytest.fixture(scope="module")
def said() -> str:
    prepared = prepare(WHEAT)
    return re.sub(r"\s+", " ", page_text(render_page(prepared, evaluate(prepared))))


@pytest.mark.parametrize(
    "words",
    [
        "Low Meadow Millers' Laboratory (fictional), organiser",
        "status of this report: final",
        "Laboratories appear by code only",
        "mixed and filled into 60 bags",
        "Sent on 2031-03-10. Results until 2031-04-11",
        "W1: sufficiently homogeneous (study homogeneity-of-w1). W2: twelve bags in duplicate",
        "no change within eight weeks",
        "Measure each sample once by the method of your daily work",
        "median of the results, spread by the median absolute deviation; prescribed by the scheme",
        "Assigned values side by side",
        "Scores by laboratory",
        "By method, as the laboratories named it",
        "C. Example, adviser: Laboratories that report a limit",
        "One score is one result on one day",
        "number from memory",
        "End of the dossier",
    ],
)
def test_a_report_of_a_round_says_what_is_listed(said, words):
    assert words in said


def test_all_five_kinds_of_picture_are_there(said):
    titles = ("Scores on W1", "Where the results on W1 lie", "Deviation and reported uncertainty on W1",
              "W1 against W2", "Scores by laboratory")  # fmt: skip
    assert [title for title in titles if title not in said] == []


def test_a_sample_of_which_nothing_is_said_is_named(tmp_path):
    table = "laboratory,sample,result\n" + "".join(f"L{i},A,{100 + i}\n" for i in range(6))
    facts = round_of(written(tmp_path, table)).as_reported.facts
    assert facts["homogeneity"] == facts["stability"] == "A: nothing is said."
