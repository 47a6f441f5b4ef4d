"""The invented data of the maize demo are what their generator makes, and its history what its earlier lots give."""

from __future__ import annotations

import json
import runpy
from pathlib import Path

import pytest

MAIZE = Path(__file__).parents[2] / "protocols" / "maize"
TABLES = ["runs.csv", "control.csv", "gate.csv", "lot-Z-0431.csv", "lot-Z-0448.csv"]
EARLIER = ["Z-0402", "Z-0412"]


def test_generator_makes_the_tables_that_are_shipped(tmp_path: Path) -> None:
    generator = runpy.run_path(str(MAIZE / "generate.py"))
    generator["main"].__globals__["FOLDER"] = tmp_path
    generator["main"]()
    for name in (*TABLES, *(f"earlier/{lot}/lots.csv" for lot in EARLIER)):
        assert (tmp_path / name).read_bytes() == (MAIZE / name).read_bytes(), name


@pytest.mark.parametrize("lot", EARLIER)
def test_history_holds_the_figures_of_the_earlier_lots(lot: str) -> None:
    """Only figures are compared: the file stays as it was when a later version writes more."""
    from validate import evaluate, load
    from validate.provenance.evaluation_file import evaluation_bytes

    made = json.loads(evaluation_bytes(evaluate(load(MAIZE / "earlier" / lot))))
    kept = json.loads((MAIZE / "history" / f"{lot}.json").read_bytes())
    now, then = (_figures(each) for each in (made, kept))
    assert now == pytest.approx(then, rel=1e-9)


def _figures(evaluation: dict) -> dict[str, float]:
    findings = evaluation["studies"][0]["as_reported"]["findings"]
    return {f"{f['name']}@{f['level']}": f["value"] for f in findings if f["value"] is not None}


def test_two_days_were_not_ready_and_their_results_are_left_out() -> None:
    from validate import evaluate, load

    evaluation = evaluate(load(MAIZE))
    control = next(s for s in evaluation.studies if s.name == "control-over-three-months")
    assert control.as_recorded.finding("mean").n - control.as_reported.finding("mean").n == 4
    lots = {s.name: s.conclusion for s in evaluation.studies if s.conclusion}
    assert set(lots) == {"lot-z-0431", "lot-z-0448"}


def test_demo_says_that_it_is_invented() -> None:
    assert "data: invented" in (MAIZE / "protocol.yaml").read_text(encoding="utf-8")
    assert (MAIZE / "SOURCE").read_text(encoding="utf-8").startswith("Invented data.")


def test_the_ageing_lamp_is_on_the_chart_of_the_check_standard() -> None:
    """The gain falls by 1 % a week from April on; the run log stops runs outside 90 to 110, the chart keeps them."""
    from validate import evaluate, load

    evaluation = evaluate(load(MAIZE))
    chart = next(s for s in evaluation.studies if s.name == "check-standard").as_reported
    assert chart.finding("mean", "100").n == 75
    assert sum(run.state == "not ready" and run.run > "R-0401" for run in evaluation.readiness.runs) == 11
    state = {row[0]: row[2] for row in next(t for t in chart.tables if t.name == "triggers").rows}
    assert state["lasting drift"].startswith("fired at run")


def test_deliveries_are_sorted_at_the_mills_own_limit_without_a_clash_of_uses() -> None:
    """The protocol is quantitative; the study says that it is about screening, so no criterion is told to clash."""
    from validate import evaluate, load

    work = load(MAIZE)
    assert not [each for each in work.problems if each.code in ("criterion-for-other-use", "set-for-other-use")]
    evaluation = evaluate(work)
    gate = next(s for s in evaluation.studies if s.name == "sorting-at-the-gate").as_reported
    assert gate.facts["target"] == "Target: 100 µg/kg." and "stated as 89.1 µg/kg" in gate.facts["cut_off"]
    assert (gate.finding("false_negative_rate").n, gate.finding("classified_alike").n) == (20, 20)
    designs = [line for line in evaluation.minimum_designs if line.study == "sorting-at-the-gate"]
    assert len(designs) == 6 and not any(line.short for line in designs)
