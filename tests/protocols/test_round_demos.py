"""The wheat round is what its generator makes; the copper round gives the published figures."""

from __future__ import annotations

import json
import runpy
from pathlib import Path

import pytest

from validate import evaluate, load
from validate.provenance.evaluation_file import evaluation_bytes

PROTOCOLS = Path(__file__).parents[2] / "protocols"
WHEAT, COPPER = PROTOCOLS / "wheat", PROTOCOLS / "copper"
TABLES = ["results.csv", "homogeneity.csv", "earlier/2030-2/results.csv"]


def test_generator_makes_the_tables_that_are_shipped(tmp_path: Path) -> None:
    generator = runpy.run_path(str(WHEAT / "generate.py"))
    generator["main"].__globals__["FOLDER"] = tmp_path
    generator["main"]()
    for name in TABLES:
        assert (tmp_path / name).read_bytes() == (WHEAT / name).read_bytes(), name


def test_history_holds_the_scores_of_the_earlier_round() -> None:
    made = json.loads(evaluation_bytes(evaluate(load(WHEAT / "earlier" / "2030-2"))))
    kept = json.loads((WHEAT / "history" / "2030-2.json").read_bytes())
    now, then = (_scores(each) for each in (made, kept))
    assert now == pytest.approx(then, rel=1e-9, abs=1e-9)


def _scores(evaluation: dict) -> dict[str, float]:
    tables = evaluation["studies"][0]["as_reported"]["tables"]
    table = next(each for each in tables if each["name"] == "scores")
    titles = [column["title"] for column in table["columns"]]
    return {row[0]: row[titles.index("z")] for row in table["rows"]}


def test_both_blunders_of_the_wheat_round_are_suspected_and_nothing_is_left_out() -> None:
    evaluation = evaluate(load(WHEAT))
    study = next(s for s in evaluation.studies if s.name == "round")
    suspected = next(t for t in study.as_reported.tables if t.name == "suspicions").rows
    assert {row[0] for row in suspected} == {"XT213", "XK557"}
    assert not evaluation.exclusions and not evaluation.amendments


def test_copper_gives_the_published_robust_figures() -> None:
    """Analyst 114 (1989) 1693: 3.2055 and 0.67365 (proposal 2, k = 1.5), median 3.385."""
    (study,) = evaluate(load(COPPER)).studies
    assert f"{study.as_reported.finding('assigned_value', 'flour').value:.4f}" == "3.2055"
    assert f"{study.as_reported.finding('robust_sd', 'flour').value:.5f}" == "0.67365"
    side = next(t for t in study.as_reported.tables if t.name == "side-by-side").rows
    assert {row[1]: row[2] for row in side}["median, MADe"] == 3.385


@pytest.mark.parametrize("folder", [WHEAT, COPPER])
def test_where_the_data_come_from_is_said(folder: Path) -> None:
    origin = "invented" if folder == WHEAT else "published"
    assert f"data: {origin}" in (folder / "protocol.yaml").read_text(encoding="utf-8")
    assert (folder / "SOURCE").is_file()
