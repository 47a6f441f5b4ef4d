"""What a control chart finds: limits, signals, scatter over time, triggers."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from tests.working import recompute, recompute_limits
from validate.pipeline import evaluate as evaluate_prepared
from validate.pipeline import prepare
from validate.stats.control import individuals, mean_and_range
from validate.stats.precision import nested, one_way
from validate.studies.control_chart.settings import RANGE, RuleName
from validate.studies.control_chart.tests.control_bench import STEADY, evaluate, finding_of, table_of, texts, value

LOTS = ["A"] * 8 + ["B"] * 8 + ["C"] * 8 + ["D"] * 8 + ["E"] * 8
DUPLICATES = {"run": [f"R{i // 2 + 1}" for i in range(80)], "replicate": ["1", "2"] * 40}
TWICE = [v + d for v in STEADY for d in (-1.0, 1.5)]
WAYS = [
    {},
    {"columns": {"lot": LOTS}, "level": "100"},
    {"limits": {"from": "certified value", "material": "CRM", "sd": "5"}},
    {"limits": {"from": "certified value", "material": "CRM", "base": {"runs": "20"}}},
    {"chart": "mean and range", "columns": DUPLICATES, "values": TWICE},
    {"chart": "mean and range", "columns": DUPLICATES | {"lot": [lot for lot in LOTS for _ in (0, 1)]}, "values": TWICE,
     "limits": {"from": "base period", "base": {"runs": "20"}, "spread": "within runs"}},
]  # fmt: skip


def given(way):
    keys = dict(way)
    return evaluate(keys.pop("values", STEADY), **keys)


@pytest.mark.parametrize("way", WAYS)
def test_every_working_gives_its_finding(way):
    revalidate = {"any": {}}
    result = given({**way, "revalidate": revalidate, "ewma": {}, "cusum": {}})
    computed = [finding for finding in result.findings if finding.value is not None]
    assert len(computed) >= 9
    for finding in computed:
        assert finding.working is not None and recompute(finding.working) == pytest.approx(
            finding.value, rel=1e-9, abs=1e-12
        )


@pytest.mark.parametrize("way", WAYS)
def test_every_interval_gives_its_limits_by_its_working(way):
    """But for counts, whose limits are the count itself."""
    found = [finding for finding in given(way).findings if finding.intervals and finding.name != "signal_count"]
    assert len(found) >= 3
    for finding in found:
        shown = finding.interval("shown")
        assert recompute_limits(finding) == pytest.approx((shown.low, shown.high), rel=1e-9), finding.name


@pytest.mark.parametrize("way", WAYS)
def test_limits_are_nested_about_their_finding(way):
    for finding in given({**way, "comparisons": 4}).findings:
        if finding.intervals and finding.value is not None:
            shown, met, not_met = (finding.interval(use) for use in ("shown", "met", "not_met"))
            assert not_met.low <= shown.low <= met.low <= finding.value <= met.high <= shown.high <= not_met.high


def test_limits_are_those_of_the_base_period():
    result, chart = evaluate(), individuals(STEADY[:20])
    names = ("control_centre", "control_sigma", "control_lower", "control_upper")
    found = [value(result, name) for name in names]
    assert found == pytest.approx([chart.centre, chart.sigma, chart.lower, chart.upper], rel=1e-12)
    assert finding_of(result, "control_centre").n == 20


def test_the_base_period_may_end_on_a_day():
    days = [f"2031-{1 + i // 20:02d}-{1 + i % 20:02d}" for i in range(40)]
    result = evaluate(columns={"date": days}, limits={"from": "base period", "base": {"until": "2031-01-20"}})
    assert value(result, "control_centre") == pytest.approx(np.mean(STEADY[:20]))


def test_runs_are_taken_in_order_of_their_days():
    days = [f"2031-{12 - i // 4:02d}-{1 + i % 4:02d}" for i in range(40)]
    late_first = evaluate(columns={"date": days})
    order = sorted(range(40), key=lambda i: days[i])
    assert value(late_first, "control_centre") == pytest.approx(np.mean([STEADY[i] for i in order[:20]]))


def test_a_certified_value_is_the_centre_and_gives_the_bias_with_its_uncertainty():
    result = evaluate(limits={"from": "certified value", "material": "CRM", "sd": "5"}, level="100")
    assert value(result, "control_centre") == 100
    bias = finding_of(result, "bias", "100")
    assert bias.value == pytest.approx(np.mean(STEADY) - 100)
    assert bias.sampling.se == pytest.approx(math.hypot(np.std(STEADY, ddof=1) / math.sqrt(40), 1.0))


def test_s_intermediate_of_single_readings_is_their_standard_deviation():
    result = evaluate()
    assert value(result, "s_intermediate") == pytest.approx(np.std(STEADY, ddof=1), rel=1e-12)
    assert value(result, "rsd_intermediate") == pytest.approx(100 * np.std(STEADY, ddof=1) / np.mean(STEADY), rel=1e-12)


def test_s_intermediate_of_several_readings_holds_runs_and_repeatability():
    result = evaluate(TWICE, columns=DUPLICATES, chart="mean and range")
    wanted = one_way(TWICE, DUPLICATES["run"])
    assert value(result, "s_intermediate") == pytest.approx(wanted.s_intermediate, rel=1e-12)
    assert value(result, "s_r") == pytest.approx(wanted.s_r, rel=1e-12)


def test_s_long_term_holds_the_part_between_lots():
    shifted = [v + {"A": 0, "B": 12, "C": -9, "D": 4, "E": 15}[lot] for v, lot in zip(STEADY, LOTS, strict=True)]
    result = evaluate(shifted, columns={"lot": LOTS})
    found = finding_of(result, "s_long_term")
    assert found.value == pytest.approx(one_way(shifted, LOTS).s_intermediate, rel=1e-12) and found.groups == 5
    lots_twice = [lot for lot in LOTS for _ in (0, 1)]
    result = evaluate(TWICE, columns=DUPLICATES | {"lot": lots_twice}, chart="mean and range")
    wanted = nested(TWICE, lots_twice, DUPLICATES["run"]).s_intermediate
    assert value(result, "s_long_term") == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize(("columns", "why"), [({}, "no lot is recorded"), ({"lot": ["A"] * 40}, "one lot only")])
def test_without_two_lots_there_is_no_long_term_figure_and_the_reason_says_so(columns, why):
    assert finding_of(evaluate(columns=columns), "s_long_term").reason.startswith(why)


def test_limits_of_means_follow_the_declared_spread():
    readings = np.array(TWICE).reshape(40, 2)
    for spread, differ in (("runs differ", True), ("within runs", False)):
        limits = {"from": "base period", "base": {"runs": "20"}, "spread": spread}
        result = evaluate(TWICE, columns=DUPLICATES, chart="mean and range", limits=limits)
        wanted = mean_and_range(readings[:20], runs_differ=differ)
        assert value(result, "control_upper") == pytest.approx(wanted.upper, rel=1e-12)


def test_limits_from_within_runs_are_warned_of_where_runs_differ_by_more():
    limits = {"from": "base period", "base": {"runs": "20"}, "spread": "within runs"}
    assert "are too narrow" in texts(
        evaluate(TWICE, columns=DUPLICATES, chart="mean and range", limits=limits), "warning"
    )


def test_a_shift_is_signalled_marked_and_not_left_out():
    shifted = STEADY[:30] + [v + 25 for v in STEADY[30:]]
    result = evaluate(shifted)
    assert value(result, "signal_count") == 10 and finding_of(result, "mean").n == 40
    assert "Look for a cause" in texts(result, "flag")
    chart = result.plots[0]
    marked = next(layer for layer in chart.layers if getattr(layer, "label", "") == "signal")
    assert marked.x == tuple(range(31, 41)) and marked.rows == tuple(range(32, 42))


def test_signals_within_the_base_period_put_its_limits_in_doubt_and_do_not_count():
    odd = [100 + (2 if i % 2 else -2) if i != 1 else 160.0 for i in range(40)]
    result = evaluate(odd, rules=["beyond limits"])
    assert "within the base period (R2)" in texts(result, "flag") and value(result, "signal_count") == 0


def test_changes_of_lot_and_calibration_are_marked_in_the_chart():
    result = evaluate(columns={"lot": LOTS, "calibration": ["1"] * 30 + ["2"] * 10})
    upright = [(layer.at, layer.label) for layer in result.plots[0].layers if getattr(layer, "axis", "") == "x"]
    assert upright == [(8.5, "lot B"), (16.5, "lot C"), (24.5, "lot D"), (30.5, "calibration 2"), (32.5, "lot E")]
    assert len(table_of(result, "changes").rows) == 5


@pytest.mark.parametrize(
    ("trigger", "fires"),
    [
        ({"on": "beyond limits"}, "R31"),
        ({"on": "beyond limits", "times": "3", "within_runs": "5"}, "R33"),
        ({"on": "any rule", "times": "11"}, None),
        ({"on": "CUSUM"}, "R31"),
        ({"on": "run of seven"}, "R36"),
        ({"on": "any rule", "within_runs": "3", "after_change_of": "lot"}, "R31"),
        ({"on": "any rule", "within_runs": "3", "after_change_of": "calibration"}, None),
    ],
)
def test_a_trigger_of_the_protocol_is_named_when_it_fires(trigger, fires):
    steady = [100 + (2 if i % 2 else -2) for i in range(30)]  # R30 lies above the centre, like all after it
    columns = {"lot": ["A"] * 30 + ["B"] * 10, "calibration": ["1"] * 5 + ["2"] * 35}
    result = evaluate([*steady, *[125.0] * 10], columns=columns, cusum={}, revalidate={"drift": trigger})
    state = table_of(result, "triggers").rows[0][2]
    assert state == ("not fired" if fires is None else f"fired at run {fires}")
    assert value(result, "revalidation_triggers") == (fires is not None)
    assert ('"drift" fired' in texts(result, "warning")) is (fires is not None)
    if trigger.get("after_change_of") == "lot":
        assert "change of lot from A to B" in texts(result, "warning")


def test_censored_results_are_left_out_and_forbid_a_verdict():
    result = evaluate(["<20", *STEADY[1:]])
    assert finding_of(result, "s_intermediate").n == 39
    assert "below a limit" in finding_of(result, "s_intermediate").blocked[0]


def test_a_scatter_below_half_a_step_of_the_reading_gets_no_verdict():
    blocked = finding_of(evaluate(method={"resolution": 20.0}), "s_intermediate").blocked
    assert "half the resolution" in blocked[0]


def test_a_record_of_one_value_ends_in_reasons():
    result = evaluate([100.0] * 30)
    assert "never change" in finding_of(result, "control_upper").reason
    assert "There is no chart" in texts(result, "warning") and result.plots == ()


def test_long_records_show_their_latest_runs():
    rng = np.random.default_rng(3)
    result = evaluate(rng.normal(100, 5, 2500).tolist())
    assert "The latest 2000 runs" in result.plots[0].sentence
    assert all(len(layer.x) <= 2000 for plot in result.plots for layer in plot.layers if hasattr(layer, "x"))


def test_the_rules_of_the_settings_are_those_of_the_statistics():
    from typing import get_args

    from validate.stats.control import RULES

    assert set(get_args(RuleName)) == {*RULES, RANGE}


def test_a_range_beyond_its_limit_is_a_signal_where_the_protocol_names_the_rule():
    """R30 reads 100 + 30 and 100 − 30: its mean lies in the middle, its two readings do not."""
    wide = [value + (30 if i == 58 else -30 if i == 59 else 0) for i, value in enumerate(TWICE)]
    keys = {"columns": DUPLICATES, "chart": "mean and range"}
    assert value(evaluate(wide, rules=["beyond limits"], **keys), "signal_count") == 0
    result = evaluate(wide, rules=["beyond limits", RANGE], **keys)
    assert value(result, "signal_count") == 1
    assert table_of(result, "signals").rows[0][0] == "R30" and "come on top" in table_of(result, "signals").note


def test_a_jump_from_one_run_to_the_next_is_a_signal_of_the_moving_range():
    jumped = [100 + (2 if i % 2 else -2) for i in range(40)]
    jumped[29:31] = [94.0, 107.5]  # 13.5 apart; limits of single values are 100 ± 10.6, of the moving range 13.07
    result = evaluate(jumped, rules=[RANGE])
    [row] = table_of(result, "signals").rows
    assert (row[0], row[4]) == ("R31", "R30")


def test_a_signal_that_goes_on_is_one_row_from_its_first_to_its_last_run():
    shifted = STEADY[:30] + [v + 25 for v in STEADY[30:]]
    rows = table_of(evaluate(shifted, rules=["beyond limits"]), "signals").rows
    assert [(row[0], row[5]) for row in rows] == [("R31", "R40")]


def test_a_signal_of_a_chart_with_a_memory_within_the_base_period_puts_its_limits_in_doubt():
    """Ten runs low, ten high: the mean lies between, and CUSUM adds up what single points do not show."""
    moved = [95.0 + i % 2 for i in range(10)] + [104.0 + i % 2 for i in range(10)] + [100.0 + i % 2 for i in range(20)]
    limits = {"from": "base period", "base": {"runs": "20"}, "sd": "5"}
    assert "within the base period" not in texts(evaluate(moved, rules=["beyond limits"], limits=limits), "flag")
    found = evaluate(moved, rules=["beyond limits"], limits=limits, cusum={"decision": "3"})
    assert "within the base period" in texts(found, "flag")


def test_neighbouring_runs_that_resemble_each_other_are_warned_of():
    """A slow wave of 20 runs: moving ranges are small, and limits from them too narrow."""
    wave = [100 + 5 * math.sin(i / 3) + 0.2 * (-1) ** i for i in range(40)]
    assert "resemble each other" in texts(evaluate(wave), "warning")
    assert "resemble each other" not in texts(evaluate(STEADY), "warning")


PROTOCOL = """format: 1
id: T
title: Test
issued: 2031-03-03
origin: {data: invented, statement: Invented for a test.}
laboratory: Fictional
purpose: verification
intended_use: quantitative
method: {measurand: deoxynivalenol, matrix: wheat, unit: µg/kg}
materials:
  CRM: {kind: certified material, value: 100 µg/kg, U: 2 µg/kg, k: 2}
studies:
  control:
    kind: control_chart
    data: {file: control.csv}
    LEVEL
    design: {runs: 40}
    limits: {from: certified value, material: CRM, sd: 5}
    rules: [beyond limits]
    accept:
      bias: {between: [-5, 5], judge_by: interval, source: own, reason: test}
  uncertainty:
    kind: uncertainty
    levels: [LIMIT]
"""


@pytest.mark.parametrize(("level", "limit"), [("level: 100", "100"), ("", "130")])
def test_uncertainty_takes_the_long_term_precision_of_a_control_material(level, limit, tmp_path: Path):
    shifted = [v + {"A": 0, "B": 12, "C": -9, "D": 4, "E": 15}[lot] for v, lot in zip(STEADY, LOTS, strict=True)]
    rows = "".join(f"R{i},{v:.2f},{lot}\n" for i, (v, lot) in enumerate(zip(shifted, LOTS, strict=True), start=1))
    (tmp_path / "control.csv").write_text("run,value,lot\n" + rows, encoding="utf-8")
    text = PROTOCOL.replace("    LEVEL\n", f"    {level}\n" if level else "").replace("LIMIT", limit)
    (tmp_path / "protocol.yaml").write_text(text, encoding="utf-8")
    evaluation = evaluate_prepared(prepare(tmp_path))
    control, uncertainty = (study.as_reported for study in evaluation.studies)
    declared = level.removeprefix("level: ") or None
    long_term, mean = value(control, "s_long_term", declared), value(control, "mean", declared)
    wanted = long_term if declared else long_term / mean * 130
    assert value(uncertainty, "u_within", limit) == pytest.approx(wanted, rel=1e-9)
    assert str(evaluation.requirements[0].as_reported.verdict) in ("met", "not shown")
