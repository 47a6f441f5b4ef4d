"""What a method comparison finds, and on what it keeps silent."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from tests.working import recompute, recompute_limits
from validate.pipeline import evaluate as evaluate_prepared
from validate.pipeline import prepare
from validate.stats.comparison import bland_altman, deming
from validate.studies.method_comparison.tests.comparison_bench import X, Y, evaluate, finding_of, own, table_of, texts

PEAK_FLOW = Path(__file__).parents[4] / "protocols" / "peak-flow"
WAYS = [
    {},
    {"line": {"by": "Passing-Bablok"}, "differences": "ratio"},
    {"line": {"by": "Deming", "variance_ratio": "2", "errors": "proportional"}, "differences": "ratio"},
    {"line": {"by": "Passing-Bablok", "errors": "proportional"}},
]


@pytest.mark.parametrize("way", WAYS)
def test_every_working_gives_its_finding(way):
    result = evaluate(levels=["50", "100"], method={"limit": 100.0}, **way)
    assert len(result.findings) == 4 + 2 + 3 + 3
    for finding in result.findings:
        assert finding.working is not None and recompute(finding.working) == pytest.approx(finding.value, rel=1e-9)


@pytest.mark.parametrize("way", WAYS)
def test_limits_that_a_calculator_can_redo_come_from_their_working(way):
    """All but those by ranks or bootstrap: of a Passing-Bablok line its slope, its intercept and its bias."""
    by_ranks = way.get("line", {}).get("by") == "Passing-Bablok"
    redone = 0
    for finding in evaluate(levels=["50", "100"], method={"limit": 100.0}, **way).findings:
        shown = finding.interval("shown")
        if shown.working is None:
            assert by_ranks and finding.name in ("slope", "intercept", "method_bias", "method_bias_percent")
            continue
        assert recompute_limits(finding) == pytest.approx((shown.low, shown.high), rel=1e-9, abs=1e-9), finding.name
        redone += 1
    assert redone == (6 if by_ranks else 12)


def test_ranks_of_the_limits_are_named_beside_the_slope():
    x = [float(v) for v in range(20, 65)]
    y = [1.02 * v + (0.7, -0.4, 0.1, -0.6, 0.3)[i % 5] for i, v in enumerate(x)]
    notes = finding_of(evaluate(x, y, line={"by": "Passing-Bablok"}), "slope").notes
    assert any(note.startswith("limits: the slopes of rank ") for note in notes)


@pytest.mark.parametrize("way", WAYS)
def test_every_finding_lies_within_its_limits_which_are_nested(way):
    for finding in evaluate(levels=["50"], method={"limit": 100.0}, comparisons=4, **way).findings:
        shown, met, not_met = (finding.interval(use) for use in ("shown", "met", "not_met"))
        assert not_met.low <= shown.low <= met.low <= finding.value <= met.high <= shown.high <= not_met.high


def test_the_bias_at_a_level_is_that_of_the_declared_line():
    fit = deming(X, Y, variance_ratio=1)
    result = evaluate(levels=["50"])
    assert finding_of(result, "method_bias", "50").value == pytest.approx(fit.intercept + (fit.slope - 1) * 50)
    assert finding_of(result, "method_bias_percent", "50").value == pytest.approx(
        2 * (fit.intercept + (fit.slope - 1) * 50)
    )


def test_with_errors_in_proportion_a_constant_factor_is_a_constant_percentage():
    factor = [1.1 * x * (1.01 if i % 2 else 1 / 1.01) for i, x in enumerate(X)]
    line = {"by": "Deming", "variance_ratio": "1", "errors": "proportional"}
    result = evaluate(X, factor, levels=["30", "120"], line=line)
    for level in ("30", "120"):
        assert finding_of(result, "method_bias_percent", level).value == pytest.approx(10, abs=0.6)


def test_a_level_outside_the_samples_gets_no_verdict():
    blocked = finding_of(evaluate(levels=["10"]), "method_bias", "10").blocked
    assert blocked == ("extrapolated: the samples span 20 to 163 µg/kg",)


def test_censored_results_stay_out_are_never_zero_and_forbid_a_verdict():
    result = evaluate(["<20", *X[1:]], Y, method={"limit": 100.0}, levels=["50"])
    assert all("censored" in finding.blocked[0] for finding in result.findings)
    assert finding_of(result, "slope").n == 23
    assert any(remark.rows == "2" for remark in result.remarks)


def test_replicates_correct_the_limits_of_single_readings_and_weight_the_ratio_of_variances():
    names = [f"S{i}" for i in range(12)]
    columns = {"sample": names * 2, "replicate": ["1"] * 12 + ["2"] * 12}
    reference, found = [*X[:12], *(x + 1 for x in X[:12])], [*Y[:12], *(["NA"] * 12)]
    result = evaluate(reference, found, columns=columns, line={"by": "Deming", "variance_ratio": "3"})
    means = [x + 0.5 for x in X[:12]]
    wanted = deming(means, Y[:12], variance_ratio=6)
    assert finding_of(result, "slope").value == pytest.approx(wanted.slope, rel=1e-12)
    agreement = bland_altman(reference, Y[:12], samples_x=names * 2, samples_y=names)
    assert finding_of(result, "agreement_upper").value == pytest.approx(agreement.upper, rel=1e-12)
    assert table_of(result, "replicates").rows[0][2] == pytest.approx(math.sqrt(0.5))
    assert table_of(result, "replicates").rows[1][2] is None


def test_decisions_at_the_limit_are_counted_on_both_sides():
    result = evaluate(method={"limit": 100.0})
    table = table_of(result, "classes")
    above, alike = sum(x > 100 for x in X), sum((x > 100) == (y > 100) for x, y in zip(X, Y, strict=True))
    assert (table.rows[0][1] + table.rows[0][2], table.rows[0][1] + table.rows[1][2]) == (above, alike)
    assert finding_of(result, "classified_alike").value == pytest.approx(100 * alike / 24)


def test_a_side_of_the_limit_without_samples_says_so():
    finding = finding_of(evaluate(method={"limit": 500.0}), "alike_above")
    assert finding.value is None and "no sample is above 500" in finding.reason


def test_without_a_limit_decisions_are_not_looked_at():
    assert evaluate().finding("classified_alike") is None


def test_few_samples_give_figures_and_a_warning():
    result = evaluate(X[:12], Y[:12])
    assert finding_of(result, "slope").value is not None and "below 20 there is no verdict" in texts(result)


def test_too_few_samples_for_a_line_leave_a_reason():
    result = evaluate(X[:4], Y[:4], levels=["30"])
    assert "at least 10" in finding_of(result, "slope").reason
    assert finding_of(result, "mean_difference").value is not None


def test_differences_that_grow_with_the_content_are_told():
    funnel = [x * (1.1 if i % 2 else 0.9) for i, x in enumerate(X)]
    assert "grow with the content" in texts(evaluate(X, funnel))
    assert "grow with the content" not in texts(evaluate(X, funnel, differences="ratio"))


def test_a_sample_apart_is_flagged_and_stays_in():
    odd = [*Y[:10], Y[10] + 60, *Y[11:]]
    result = evaluate(X, odd)
    assert "Sample S11 lies apart" in texts(result) and finding_of(result, "slope").n == 24
    assert table_of(result, "farthest").rows[0][0] == "S11"


def test_equal_differences_get_no_verdict():
    finding = finding_of(evaluate(X, [x + 2 for x in X]), "agreement_upper")
    assert finding.blocked == ("all samples differ by the same amount (s = 0)",)


@pytest.mark.parametrize("by", ("Deming", "Passing-Bablok"))
def test_results_on_one_line_exactly_get_no_verdict_on_bias_or_slope(by):
    line = {"by": by, "variance_ratio": "1"} if by == "Deming" else {"by": by}
    result = evaluate(X, [1.1 * x + 2 for x in X], levels=["60"], line=line)
    for name, level in (("method_bias", "60"), ("method_bias_percent", "60"), ("slope", None)):
        assert "all samples lie on one line exactly (s = 0)" in finding_of(result, name, level).blocked


def test_a_scatter_below_half_a_step_of_the_reading_gets_no_verdict():
    found = [x + (0.1 if i % 2 else -0.1) for i, x in enumerate(X)]
    finding = finding_of(evaluate(X, found, method={"resolution": 1.0}), "mean_difference")
    assert "half a step" in finding.blocked[0]


def test_published_limits_of_agreement_stand_in_the_evaluation_of_the_published_protocol():
    """Lancet 1986 i 307-310: −2.1; −79.7 and 75.5 from rounded figures; −22.0 to 17.8."""
    first = evaluate_prepared(prepare(PEAK_FLOW)).studies[0].as_reported
    mean, low, high = (finding_of(first, name) for name in ("mean_difference", "agreement_lower", "agreement_upper"))
    assert f"{mean.value:.1f}" == "-2.1"
    assert (f"{mean.interval('shown').low:.1f}", f"{mean.interval('shown').high:.1f}") == ("-22.0", "17.8")
    assert (low.value, high.value) == pytest.approx((-79.7, 75.5), abs=0.1)


def test_published_standard_deviations_stand_in_the_study_of_both_readings():
    """21.6 and 28.2 for differences of two readings; 37.7 corrected (from memory)."""
    both = evaluate_prepared(prepare(PEAK_FLOW)).studies[1].as_reported
    reference, wright = (row[2] * math.sqrt(2) for row in table_of(both, "replicates").rows)
    assert (f"{wright:.1f}", f"{reference:.1f}") == ("21.6", "28.2")
    symbols = {each.name: each.value for each in finding_of(both, "agreement_upper").working.symbols}
    assert f"{symbols['s']:.1f}" == "37.7"


@pytest.mark.parametrize(("shift", "verdict"), [(0.0, "met"), (0.3, "not met"), (0.1, "not shown")])
def test_a_bias_is_judged_by_its_interval(shift, verdict, tmp_path):
    """True ratios 1, 1.3 and 1.1 against ± 10 %."""
    rng = np.random.default_rng(20310303)
    x = np.linspace(20, 160, 30)
    rows = "".join(
        f"S{i},{a:.2f},{b:.2f}\n"
        for i, (a, b) in enumerate(zip(x, x * (1 + shift) + rng.normal(0, 2, 30), strict=True))
    )
    (tmp_path / "t.csv").write_text("sample,reference,found\n" + rows, encoding="utf-8")
    (tmp_path / "protocol.yaml").write_text(
        f"""format: 1
id: T
title: Test
issued: 2031-03-03
origin: {{data: invented, statement: Invented for a test.}}
laboratory: Fictional
purpose: validation
intended_use: quantitative
method: {{measurand: zearalenone, matrix: maize, unit: µg/kg}}
studies:
  s:
    kind: method_comparison
    reference: HPLC
    data: {{file: t.csv}}
    design: {{samples: 30}}
    levels: [100]
    line: {{by: Deming, variance_ratio: 1}}
    accept: {own("method_bias_percent", between=[-10, 10])}
""",
        encoding="utf-8",
    )
    evaluation = evaluate_prepared(prepare(tmp_path))
    assert str(evaluation.requirements[0].as_reported.verdict) == verdict
