"""What a screening study computes, from tables whose figures are known."""

from __future__ import annotations

import pytest

from tests.working import recompute
from validate.studies.screening.study import STUDY
from validate.studies.screening.tests.screening_bench import (
    LEVELS,
    NEGATIVE,
    POSITIVE,
    evaluate,
    finding_of,
    job,
    spread,
    table_of,
    texts,
)

COMPARED = {"": [6.1, 4.0, 5.0, 0.4, 2.0, 3.9]}
REFERENCE = [6.0, 5.0, 4.9, 0.1, 2.2, 5.5]
"""At or above 5 by the reference: first, second, last; found above 3.6167: all but the fourth and fifth."""


def test_constructed_example_gives_its_cut_off_and_its_false_suspects():
    result = evaluate()
    cut = finding_of(result, "cut_off")
    assert round(cut.value, 4) == 3.6167 and (cut.n, cut.df) == (20, 19)
    assert round(finding_of(result, "false_suspect_rate").value, 4) == 0.1675
    assert round(finding_of(result, "missed_by_cut_off").value, 1) == 5.4


def test_every_working_recomputes_to_its_finding():
    many = {**LEVELS, "1": spread(3, 0.8, 10), "2.5": spread(3.6, 0.8, 10), **COMPARED}
    blank = float("nan")
    columns = {"reference": [0.5] * 20 + [blank] * 40 + REFERENCE}
    design = {"negatives": "20", "positives": "20", "levels": ["1", "2.5"], "replicates": "10", "compared": "6"}
    for model in ("cloglog", "cloglog-slope-1", "logit", "probit"):
        result = evaluate(many, design=design, curve={"model": model}, columns=columns, reference="HPLC")
        values = [f for f in result.findings if f.value is not None]
        assert len(values) == len(result.findings)
        for finding in values:
            assert recompute(finding.working) == pytest.approx(finding.value, rel=1e-9), (model, finding.name)


def test_an_inverse_response_is_cut_on_the_other_side():
    falling = {"0": [10 - x for x in NEGATIVE], "5": [10 - x for x in POSITIVE]}
    up, down = evaluate(), evaluate(falling, response="inverse")
    assert finding_of(down, "cut_off").value == pytest.approx(10 - finding_of(up, "cut_off").value)
    for name in ("false_suspect_rate", "false_negative_rate", "false_positive_rate"):
        assert finding_of(down, name).value == pytest.approx(finding_of(up, name).value), name


def test_cut_off_is_stated_with_the_significant_figures_of_the_target():
    assert evaluate().facts["cut_off"].startswith("Cut-off stated as 3.6 µg/kg")
    assert "stated as 4 µg/kg: 1 significant figure" in finding_of(evaluate(target="5"), "cut_off").notes[0]
    assert "stated as 3.62 µg/kg: 3 significant figures" in finding_of(evaluate(target="5.00"), "cut_off").notes[0]


@pytest.mark.parametrize(("written", "figures"), [("5", 1), ("5.0", 2), ("0.05", 1), ("0.050", 2), ("400", 3),
                                                  ("400.", 3), ("1.20e3", 3), ("12", 2)])  # fmt: skip
def test_significant_figures_are_those_of_the_written_target(written, figures):
    from validate.studies.screening.tests.screening_bench import settings

    assert settings(target=written).target_figures == figures


def test_a_cut_off_as_stated_that_sorts_a_sample_otherwise_is_told():
    assert "sorts these samples otherwise" not in texts(evaluate(target="5.00"))
    assert "sorts these samples otherwise" in texts(evaluate(target="5")), "3.6167 becomes 4"


def test_counts_are_made_with_the_cut_off_and_have_exact_limits():
    result = evaluate(
        {"0": [*NEGATIVE[:-1], 9.0], "5": [*POSITIVE[:-2], 1.0, 9.0]}, cut_off={"value": "3.8", "source": "x"}
    )
    missed = finding_of(result, "false_negative_rate")
    assert missed.value == pytest.approx(10), "the reading of 1.0, and the lowest of the spread, 3.72"
    assert (round(missed.interval("shown").low, 2), round(missed.interval("shown").high, 2)) == (1.23, 31.70)
    assert finding_of(result, "false_positive_rate").value == pytest.approx(5)
    wrong = table_of(result, "wrong").rows
    assert [(row[0], row[2]) for row in wrong] == [
        ("21", "negative, suspect"), ("22", "at the target, missed"), ("40", "at the target, missed")]  # fmt: skip


def test_a_reading_at_the_cut_off_is_not_suspect():
    result = evaluate({"0": [3.0, 1.0, 2.0], "5": [3.0, 4.0, 5.0]}, cut_off={"value": "3", "source": "earlier"})
    assert finding_of(result, "false_positive_rate").value == 0
    assert finding_of(result, "false_negative_rate").value == pytest.approx(100 / 3)


def test_censored_readings_are_sorted_by_their_mark_and_never_zero():
    use = {"cut_off": {"value": "3", "source": "earlier"}}
    result = evaluate({"0": ["<2", "n.d.", "<3", "<4", 1.0, ""], "5": [">10", 5.0, 6.0, 4.0]}, **use)
    negatives = finding_of(result, "false_positive_rate")
    assert (negatives.n, negatives.value) == (4, 0), "<4 tells neither, the empty cell is no result"
    assert "tell neither" in negatives.blocked[0]
    assert finding_of(result, "false_negative_rate").value == 0
    assert "gave no number" in finding_of(result, "cut_off").reason
    assert "gave no number" in finding_of(result, "false_suspect_rate").reason


def test_negatives_that_all_read_the_floor_are_counted_instead():
    result = evaluate({"0": [0.0] * 20, "5": POSITIVE})
    rate = finding_of(result, "false_suspect_rate")
    assert rate.value is None and "counted instead" in rate.reason
    assert finding_of(result, "false_positive_rate").interval("shown").high == pytest.approx(16.84, abs=0.01)
    assert "Go by the count" in texts(result)


def test_equal_readings_at_the_target_give_no_cut_off_and_sort_nothing():
    result = evaluate({"0": NEGATIVE, "5": [5.0] * 20})
    assert "are equal" in finding_of(result, "cut_off").reason
    assert finding_of(result, "false_negative_rate").value is None
    assert "could not be sorted" in texts(result)


def test_a_response_of_the_other_kind_blocks_every_verdict_from_the_cut_off():
    result = evaluate(response="inverse")
    assert all(finding_of(result, name).blocked for name in ("cut_off", "missed_by_cut_off", "false_suspect_rate"))
    assert "the response looks proportional" in texts(result)


def test_readings_coarser_than_their_scatter_block_the_cut_off():
    assert "half a step" in finding_of(evaluate(method={"resolution": 2.0}), "cut_off").blocked[0]
    assert finding_of(evaluate(method={"resolution": 1.0}), "cut_off").blocked == ()


def test_a_test_that_decides_itself_has_no_cut_off():
    said = {"0": ["no"] * 19 + ["yes"], "5": ["yes"] * 20}
    result = evaluate(said, reads="decision", response=None)
    assert result.finding("cut_off") is None and result.finding("false_suspect_rate") is None
    assert finding_of(result, "false_positive_rate").value == pytest.approx(5)
    assert finding_of(result, "detection_rate", "5").value == 100
    assert {plot.name for plot in result.plots} == set()


def test_a_signal_has_its_own_finding_and_unit():
    result = evaluate(reads="signal", signal_unit="mV")
    assert finding_of(result, "cut_off_signal").unit == "mV" and result.finding("cut_off") is None


def test_agreement_with_the_reference_method_counts_samples_at_or_above_the_target():
    columns = {"reference": [float("nan")] * 40 + REFERENCE}
    design = {"negatives": "20", "positives": "20", "compared": "6"}
    result = evaluate({**LEVELS, **COMPARED}, design=design, columns=columns, reference="HPLC")
    shares = {name: (finding_of(result, name).value, finding_of(result, name).n)
              for name in ("classified_alike", "alike_above", "alike_below")}  # fmt: skip
    assert shares == {"classified_alike": (pytest.approx(500 / 6), 6), "alike_above": (100, 3),
                      "alike_below": (pytest.approx(200 / 3), 3)}  # fmt: skip
    assert table_of(result, "classes").rows == (("at or above 5.0 µg/kg", 3.0, 0.0), ("below 5.0 µg/kg", 1.0, 2.0))


def test_agreement_without_samples_on_one_side_says_so():
    columns = {"reference": [float("nan")] * 40 + [9.0] * 6}
    design = {"negatives": "20", "positives": "20", "compared": "6"}
    result = evaluate({**LEVELS, **COMPARED}, design=design, columns=columns, reference="HPLC")
    assert "no sample is below 5.0" in finding_of(result, "alike_below").reason


def test_the_curve_gives_its_levels_with_limits_and_says_when_it_cannot():
    def at(hits):
        return ["yes"] * hits + ["no"] * (20 - hits)

    said = {"1": at(5), "2": at(9), "4": at(17), "8": at(20)}
    keys = {"reads": "decision", "response": None, "target": None,
            "design": {"levels": ["1", "2", "4", "8"], "replicates": "20"}}  # fmt: skip
    curve = evaluate(said, curve={"model": "cloglog"}, **keys)
    assert finding_of(curve, "level_95").value == pytest.approx(5.386, abs=5e-4), "as a binomial GLM of statsmodels"
    shown = finding_of(curve, "level_95").interval("shown")
    assert shown.low < 5.386 < shown.high
    assert {plot.name for plot in curve.plots} == {"detection_curve"}
    steep = evaluate({"1": at(0), "2": at(0), "4": at(20), "8": at(20)}, curve={"model": "logit"}, **keys)
    assert "complete separation" in finding_of(steep, "level_50").reason
    assert "No curve of detection" in texts(steep)


def test_every_sample_is_a_point_of_the_detection_curve():
    design = {"negatives": "20", "positives": "20", "levels": ["2"], "replicates": "10"}
    result = evaluate({**LEVELS, "2": spread(2.5, 1, 10)}, design=design)
    plot = next(each for each in result.plots if each.name == "detection_curve")
    points = next(layer for layer in plot.layers if layer.layer == "points")
    assert len(points.rows) == 50 == len(set(points.rows)) and set(points.y) == {0.0, 100.0}


def test_both_distributions_and_the_cut_off_are_drawn():
    plot = next(each for each in evaluate().plots if each.name == "distributions")
    assert plot.y.categories == ("0 (negative)", "5 (target)")
    assert [layer.layer for layer in plot.layers] == ["line", "line", "points", "rule"]
    assert plot.layers[-1].axis == "x" and round(plot.layers[-1].at, 4) == 3.6167


def test_content_of_the_negatives_is_measured_or_declared_or_missing():
    declared = evaluate(negatives_hold={"at_most": "0.5", "by": "certificate"})
    assert finding_of(declared, "negative_content").value == pytest.approx(10)
    measured = evaluate(columns={"reference": [0.2] * 19 + [0.8] + [5.0] * 20})
    assert finding_of(measured, "negative_content").value == pytest.approx(16)
    assert finding_of(evaluate(), "negative_content").value is None


def test_a_cut_off_in_use_that_the_samples_no_longer_give_is_told():
    assert "determine it again" in texts(evaluate(cut_off={"value": "1", "source": "two years ago"}))
    assert "determine it again" not in texts(evaluate(cut_off={"value": "3.5", "source": "two years ago"}))


def test_days_that_differ_make_the_limits_too_narrow_and_are_told():
    drifting = {"0": NEGATIVE, "5": [day + x for day in (3, 4, 5, 6, 7) for x in (-0.1, 0, 0.1, 0.05)]}
    days = ["a", "b", "c", "d", "e"] * 4 + [day for day in "abcde" for _ in range(4)]
    told = texts(evaluate(drifting, columns={"day": days}))
    assert "Samples at the target differ more between days" in told


def test_limits_of_use_name_what_was_not_varied():
    asked = job(columns={"lot": "L1"})
    said = " ".join(STUDY.limits(asked, STUDY.evaluate(asked)))
    assert "One lot" in said and "further commodity" in said and "at most 14 %" in said


def test_a_rate_far_out_in_the_tail_says_that_it_is_a_guess_and_has_no_lower_limit():
    far = finding_of(evaluate({"0": spread(0.2, 0.2), "5": POSITIVE}), "false_suspect_rate")
    assert far.value < 1e-4 and far.interval("shown").low is None and far.interval("met").high >= far.value
    assert "nobody has seen" in far.notes[0]
    near = finding_of(evaluate({"0": spread(1.5, 1), "5": POSITIVE}), "false_suspect_rate")
    assert near.interval("shown").low > 0 and near.notes == ()


def test_verdict_limits_widen_with_the_number_of_comparisons():
    one, ten = (finding_of(evaluate(comparisons=k), "false_suspect_rate").interval("not_met") for k in (1, 10))
    assert one.level == pytest.approx(0.90) and ten.level == pytest.approx(0.99) and ten.high > one.high


def test_the_sort_of_a_sample_does_not_depend_on_the_order_of_the_rows():
    turned = {level: list(reversed(values)) for level, values in reversed(LEVELS.items())}
    known = {"negatives_hold": {"at_most": "0.5", "by": "certificate"}}
    here, there = evaluate(**known), evaluate(turned, **known)
    for finding in here.findings:
        assert finding_of(there, finding.name, finding.level).value == pytest.approx(finding.value), finding.name
