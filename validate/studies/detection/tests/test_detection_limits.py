"""Limits from blanks, low-level samples and calibrations: published factors, one domain, reasons without a figure."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.working import recompute, recompute_limits
from validate.studies.detection.tests.low_level_bench import BLANKS, DAYS, METHOD, evaluate, lines

S = float(np.std(BLANKS, ddof=1))
LEVELS = [0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0]
SIGNALS = [2.1, 5.0, 9.0, 12.6, 17.3, 21.0, 24.7]
"""The published fluorescein calibration in pg/mL; source beside the check values of the package."""
PRINTED = 1.5e-4
"""Half a unit in the last printed digit of s_res (0.4328) and of the slope (1.9304) together."""


def test_limits_from_blanks_have_the_published_factors() -> None:
    result = evaluate({"0": BLANKS}, day=DAYS)
    root = (1 + 1 / 10) ** 0.5
    assert result.finding("critical_value").value == pytest.approx(1.8331 * S * root, rel=1e-4)
    lod = result.finding("lod_blanks")
    assert lod.value == pytest.approx(3.5754 * S * root, rel=1e-4)
    assert lod.interval("met").high / lod.value == pytest.approx(1.645, abs=5e-4)
    assert result.finding("lod_3.3_sd").value == pytest.approx(3.3 * S, rel=1e-12)


def test_upper_limit_of_every_limit_with_a_standard_deviation_is_in_the_table() -> None:
    for title, content, upper, *_ in lines(evaluate({"0": BLANKS}, day=DAYS), "approaches"):
        assert upper == pytest.approx(1.6451 * content, rel=1e-4), title


def test_net_gross_and_content_are_the_same_limit() -> None:
    spikes = {"0": BLANKS, "1": [2.2, 2.3, 2.1, 2.25, 2.15, 2.2, 2.3]}
    found = evaluate(spikes, setting={"sensitivity": "spiked samples"})
    _, content, _, net, gross, *_ = lines(found, "approaches")[0]
    slope = np.polyfit([0.0] * 10 + [1.0] * 7, BLANKS + spikes["1"], 1)[0]
    assert net / content == pytest.approx(slope)
    assert gross - net == pytest.approx(np.mean(BLANKS))


def test_fewer_results_or_days_than_a_limit_needs_forbid_a_verdict() -> None:
    assert evaluate({"0": BLANKS}, day=DAYS).finding("lod").blocked == ()
    assert "9 blanks are too few" in evaluate({"0": BLANKS[:9]}, day=DAYS[:9]).finding("lod").blocked[0]
    assert "2 days" in evaluate({"0": BLANKS}, day=list("aaaaabbbbb")).finding("lod").blocked[0]
    assert "not recorded" in evaluate({"0": BLANKS}).finding("lod").blocked[0]


@pytest.mark.parametrize(
    ("blanks", "method", "why"),
    [
        ([0.0, 0.0, 0.1, 0.0, 0.2], replace(METHOD, floor=0.0), "3 of 5 blanks read the floor"),
        ([0.1, 0.1, 0.2, 0.1, 0.1], replace(METHOD, resolution=0.1), "less than half a step"),
        ([0.1] * 5, METHOD, "all 5 blanks are equal"),
        ([0.1, "<0.1", 0.2, 0.1, 0.3], METHOD, "1 of 5 blanks gave no number"),
    ],
)
def test_floored_rounded_or_censored_blanks_give_no_limit_and_say_what_to_measure(
    blanks: list[Any], method: Any, why: str
) -> None:
    result = evaluate({"0": blanks}, method=method)
    lod = result.finding("lod")
    assert lod.value is None and why in lod.reason
    assert "samples at 1 to 3 times the expected limit" in lod.reason
    assert any(why in remark.text for remark in result.remarks)


def test_low_level_samples_stand_in_for_blanks_that_give_no_limit() -> None:
    low = [0.9, 1.0, 1.1, 0.8, 1.0, 1.2, 0.9]
    result = evaluate({"0": [0.0] * 10, "1": low}, method=replace(METHOD, floor=0.0), day="a")
    expected = 3.7516 * np.std(low, ddof=1) * (1 + 1 / 7) ** 0.5
    assert result.finding("lod_low_level").value == pytest.approx(expected, rel=1e-4)
    assert "low-level samples stands for that of blanks" in result.finding("critical_value").notes[0]
    assert result.finding("lod_3_sd").value == pytest.approx(3 * np.std(low, ddof=1))


def test_a_low_level_far_above_the_limit_is_told() -> None:
    low = [9.9, 10.0, 10.1, 9.95, 10.05, 10.0, 10.02]
    notes = evaluate({"0": BLANKS, "10": low}, day="a").finding("lod_low_level").notes
    assert any("times the limit" in note for note in notes)


def test_method_detection_limit_is_that_of_the_spikes_where_the_blanks_are_low() -> None:
    spikes = [2.23, 2.05, 2.09, 2.2, 2.13, 2.18, 2.27, 2.09]
    found = evaluate({"0": BLANKS, "2": spikes}).finding("lod_mdl")
    blank = np.mean(BLANKS) + 2.8214 * S
    assert found.value == pytest.approx(max(2.998 * np.std(spikes, ddof=1), blank), rel=1e-4)


def calibration(by: str, **setting: Any):
    levels = {f"{x:g}": [y] for x, y in zip(LEVELS, SIGNALS, strict=True)}
    keys = {"response": "signal", "rows": "standards", "lod": {"by": by}, "loq": {"by": "residual SD"}} | setting
    return evaluate(levels, role="signal", setting=keys)


def test_published_calibration_gives_its_limits_with_the_standard_deviation_named() -> None:
    result = calibration("calibration")
    assert result.finding("lod").value == pytest.approx(1.050, abs=5e-4)
    assert result.finding("lod_3_residual_sd").value == pytest.approx(0.67, abs=5e-3), "as printed in the source"
    assert result.finding("lod_residual_sd").value == pytest.approx(3.3 * 0.4328 / 1.9304, rel=PRINTED)
    assert result.finding("loq").value == pytest.approx(10 * 0.4328 / 1.9304, rel=PRINTED)
    words = [line[5] for line in lines(result, "approaches") if "residual SD" in line[0]]
    assert words and all("residual SD of 7 standards, one calibration" in text for text in words)


def test_one_calibration_has_no_sd_of_intercepts() -> None:
    finding = calibration("intercept SD").finding("lod")
    assert finding.value is None
    assert finding.reason == "1 separate calibration found, 5 needed"


def test_five_calibrations_have_one() -> None:
    shifts = [0.0, 0.3, -0.2, 0.1, -0.1]
    levels = {f"{x:g}": [y + shift for shift in shifts] for x, y in zip(LEVELS, SIGNALS, strict=True)}
    keys = {"response": "signal", "rows": "standards", "lod": {"by": "intercept SD"}}
    found = evaluate(levels, role="signal", setting=keys, calibration=list("ABCDE") * 7).finding("lod")
    assert found.value == pytest.approx(3.3 * np.std(shifts, ddof=1) / 1.93036, rel=1e-4)


def test_signals_that_fall_with_the_content_are_detected_below_the_critical_value() -> None:
    falling = {"0": [100 - 10 * b for b in BLANKS], "1": [80.0, 81.0, 79.5, 80.5], "2": [62.0, 60.0, 61.0, 59.0]}
    result = evaluate(falling, role="signal", setting={"response": "signal"})
    assert result.finding("detection_rate", "1").value == 100
    assert result.finding("false_positive_rate").value == 0


DESIGNS: dict[str, dict[str, Any]] = {
    "as read": {},
    "spiked samples": {"setting": {"sensitivity": "spiked samples", "averaged": "2"}},
    "declared decision": {"setting": {"decision_limit": "0.5", "lod": {"by": "trials"}}},
    "curve": {"setting": {"lod": {"by": "POD"}, "decision_limit": "1.0"}},
}


@pytest.mark.parametrize("design", DESIGNS)
def test_working_recomputes_to_its_finding(design: str) -> None:
    spikes = {"0": BLANKS, "0.5": [0.7, 0.8, 1.1, 0.6, 0.9, 1.2, 0.8], "1": [1.2, 1.3, 0.9, 1.1, 1.25, 1.4, 1.3]}
    findings = [f for f in evaluate(spikes, day="a", **DESIGNS[design]).findings if f.value is not None]
    assert len(findings) >= 10
    for finding in findings:
        assert recompute(finding.working) == pytest.approx(finding.value, rel=1e-12), finding.name
        shown = finding.interval("shown")
        if shown and shown.method in ("chi-square of s", "Clopper-Pearson"):
            assert recompute_limits(finding) == pytest.approx((shown.low, shown.high), rel=1e-12), finding.name


def test_working_of_a_calibration_recomputes_to_its_finding() -> None:
    for finding in calibration("calibration").findings:
        if finding.value is not None:
            assert recompute(finding.working) == pytest.approx(finding.value, rel=1e-12), finding.name
