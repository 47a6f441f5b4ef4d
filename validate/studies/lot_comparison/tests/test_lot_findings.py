"""What a comparison of lots finds, and when no verdict may rest on it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from tests.working import recompute, recompute_limits
from validate.studies.lot_comparison.kinds import BY_NAME
from validate.studies.lot_comparison.tests.lots_bench import (
    CURRENT,
    NEW,
    SPREAD,
    equivalence,
    evaluate,
    joined,
    pairs,
    shift_detection,
    value,
)

LEVELS = {"levels": ["40", "200"]}
AT = ["40"] * 5 + ["200"] * 5
DIFFERENCE = {"form": "difference", "margin": {"absolute": "10", "reason": "invented"}}


def test_a_ratio_is_that_of_the_paired_t_interval_on_logarithms():
    found = evaluate().finding("lot_ratio")
    t = stats.ttest_1samp(np.log(np.array(NEW) / CURRENT), 0)
    for use, level in (("shown", 0.95), ("met", 0.90)):
        wanted, limits = t.confidence_interval(level), found.interval(use)
        assert (limits.low, limits.high) == pytest.approx((100 * math.exp(wanted.low), 100 * math.exp(wanted.high)))
    assert (found.n, found.df, found.unit) == (10, 9, "%")


def test_not_met_uses_an_interval_wider_by_the_number_of_comparisons():
    one, six = (evaluate(comparisons=k).finding("lot_ratio").interval("not_met") for k in (1, 6))
    assert one.level == pytest.approx(0.90)
    assert six.level == pytest.approx(1 - 0.1 / 6)
    assert six.low < one.low


def test_every_level_is_compared_by_itself_and_all_of_them_together():
    result = evaluate(pairs(level=AT), **equivalence(design=LEVELS))
    low, high = (value(result, "lot_ratio", level) for level in ("40", "200"))
    ratios = np.log(np.array(NEW) / CURRENT)
    assert (low, high) == pytest.approx((100 * math.exp(ratios[:5].mean()), 100 * math.exp(ratios[5:].mean())))
    assert value(result, "lot_ratio_overall") == pytest.approx(100 * math.exp(ratios.mean()))
    assert value(result, "lot_difference", "40") == pytest.approx(np.mean(np.subtract(NEW, CURRENT)[:5]))


def test_unpaired_results_are_compared_by_welch():
    columns = joined(
        {"sample": ["a"] * 4, "lot": ["B"] * 4, "result": [10.5, 9.3, 11.0, 10.0]},
        {"sample": ["b"] * 5, "lot": ["A"] * 5, "result": [10.0, 8.0, 12.0, 11.5, 10.1]},
    )
    found = evaluate(columns, **equivalence(paired="no", **DIFFERENCE)).finding("lot_difference")
    wanted = stats.ttest_ind(columns["result"][:4], columns["result"][4:], equal_var=False).confidence_interval(0.9)
    assert (found.interval("met").low, found.interval("met").high) == pytest.approx((wanted.low, wanted.high))
    assert found.n == 9


def test_group_means_carry_the_limits_when_the_protocol_says_so():
    days = ["1", "1", "2", "2", "3", "3", "4", "4", "5", "5"]
    found = evaluate(pairs(group=days), **equivalence(group_means="yes")).finding("lot_ratio")
    means = np.log(np.array(NEW) / CURRENT).reshape(5, 2).mean(axis=1)
    wanted = stats.ttest_1samp(means, 0).confidence_interval(0.9)
    assert found.interval("met").high == pytest.approx(100 * math.exp(wanted.high))
    assert (found.df, found.groups, found.n) == (4, 5, 10)


def test_repeated_results_are_averaged_within_the_sample_and_tell_the_scatter():
    columns = joined(
        pairs([50.0, 100, 200], [49.0, 101, 198], replicate=["1"] * 3),
        pairs([52.0, 104, 190], [50.0, 99, 202], replicate=["2"] * 3),
    )
    result = evaluate(columns)
    logs = [math.log(math.sqrt(a * c) / math.sqrt(b * d)) for a, b, c, d in
            zip([50, 100, 200], [49, 101, 198], [52, 104, 190], [50, 99, 202], strict=True)]  # fmt: skip
    assert value(result, "lot_ratio") == pytest.approx(100 * math.exp(np.mean(logs)))
    s = [math.sqrt(sum(math.log(a / b) ** 2 / 2 for a, b in two) / 3) for two in
         (((50, 52), (100, 104), (200, 190)), ((49, 50), (101, 99), (198, 202)))]  # fmt: skip
    assert value(result, "precision_ratio") == pytest.approx(s[0] / s[1])
    assert result.finding("precision_ratio").interval("met").high == pytest.approx(
        s[0] / s[1] * math.sqrt(stats.f.ppf(0.95, 3, 3))
    )


def test_without_repeats_nothing_is_said_of_the_scatter_of_either_lot():
    found = evaluate().finding("precision_ratio")
    assert found.value is None
    assert "repeated" in found.reason


def test_a_slope_of_one_on_logarithms_is_the_same_ratio_at_every_level():
    found = evaluate(pairs([1.1 * x for x in CURRENT], CURRENT)).finding("slope")
    assert found.value == pytest.approx(1)
    assert found.interval("shown").high - found.interval("shown").low < 1e-9


def test_samples_on_the_other_side_of_the_limit_are_counted():
    """Limit 100: of the ten samples one reads 104 with the new and 97 with the current lot."""
    found = evaluate(method={"limit": 100.0}).finding("changed_decisions")
    assert (found.value, found.n) == (10, 10)
    assert found.interval("shown").high == pytest.approx(100 * stats.beta.ppf(0.975, 2, 9))


def test_a_result_at_the_limit_is_on_the_side_below():
    found = evaluate(pairs([100.0, 101, 50], [99.0, 100, 51]), method={"limit": 100.0}).finding("changed_decisions")
    assert found.value == pytest.approx(100 / 3)


def test_controls_blanks_and_standards_are_kept_apart_from_samples():
    columns = joined(
        pairs(),
        {"sample": ["C", "C"], "lot": ["B", "B"], "result": [95.0, 101.0], "what": ["control"] * 2},
        {"sample": ["W", "W", "W"], "lot": ["B", "B", "A"], "result": ["<2", 1.0, 9.0], "what": ["blank"] * 3},
        {"sample": ["P"], "lot": ["B"], "result": [93.0], "what": ["standard"], "added": [100.0]},
        {"sample": ["P"], "lot": ["A"], "result": [50.0], "what": ["standard"], "added": [100.0]},
    )
    result = evaluate(columns)
    assert value(result, "lot_ratio") == pytest.approx(value(evaluate(), "lot_ratio"))
    assert value(result, "control_mean") == 98
    assert value(result, "blank_highest") == 2
    assert value(result, "column_recovery") == 93
    assert result.finding("column_recovery").intervals == ()


def test_a_blank_that_no_number_bounds_gives_no_figure():
    columns = joined(pairs(), {"sample": ["W"], "lot": ["B"], "result": ["n.d."], "what": ["blank"]})
    assert "n.d." in evaluate(columns).finding("blank_highest").reason


def test_other_factors_have_findings_of_their_own():
    columns = pairs()
    columns["analyst"] = columns.pop("lot")
    result = evaluate(columns, **equivalence(factor="analyst"))
    assert result.finding("lot_ratio") is None
    assert value(result, "new_ratio") == pytest.approx(value(evaluate(), "lot_ratio"))
    assert BY_NAME["new_ratio"].characteristic == ""
    assert BY_NAME["lot_ratio"].characteristic == "lot_equivalence"


def test_a_shift_is_judged_with_the_spread_of_the_protocol_and_not_with_that_of_six_pairs():
    result = evaluate(pairs(NEW[:6], CURRENT[:6]), **shift_detection())
    found, s = result.finding("lot_shift"), math.sqrt(2) * 0.08
    mean = np.log(np.array(NEW[:6]) / CURRENT[:6]).mean()
    assert found.value == pytest.approx(100 * math.exp(mean))
    assert (found.df, found.n) == (30, 6)
    assert found.interval("shown").high == pytest.approx(
        100 * math.exp(mean + stats.t.ppf(0.975, 30) * s / math.sqrt(6))
    )


def test_one_pair_can_be_looked_at_for_a_shift_but_not_for_equivalence():
    one = pairs(NEW[:1], CURRENT[:1])
    assert evaluate(one, **shift_detection(1)).finding("lot_shift").value is not None
    found = evaluate(one).finding("lot_ratio")
    assert found.value is None
    assert "one pair" in found.reason


def test_censored_results_and_zeros_leave_their_pair_out_and_forbid_a_verdict():
    for cell in ("<5", "n.d.", 0.0):
        found = evaluate(pairs([*NEW, cell], [*CURRENT, 20.0])).finding("lot_ratio")
        assert found.n == 10
        assert "no numbers that can be compared" in found.blocked[0]


def test_a_zero_is_a_number_in_the_form_difference():
    found = evaluate(pairs([*NEW, 0.0], [*CURRENT, 1.0]), **equivalence(**DIFFERENCE)).finding("lot_difference")
    assert (found.n, found.blocked) == (11, ())


def test_equal_differences_give_a_value_and_no_verdict():
    found = evaluate(pairs([2 * x for x in CURRENT], CURRENT)).finding("lot_ratio")
    assert found.value == pytest.approx(200)
    assert found.intervals == ()
    assert "all differences are equal" in found.blocked[0]


def test_differences_below_the_step_of_the_reading_give_no_verdict():
    result = evaluate(pairs([10.0, 11, 10, 11], [10.1, 11, 10.1, 11]), method={"resolution": 1.0})
    assert "half a step" in result.finding("lot_ratio").blocked[0]


def test_a_result_without_partner_is_left_out_and_told():
    columns = pairs()
    columns = {name: cells[:-1] for name, cells in columns.items()}
    result = evaluate(columns)
    assert result.finding("lot_ratio").n == 9
    assert [(r.kind, r.rows) for r in result.remarks if "partner" in r.text] == [("warning", "11")]


def test_a_pair_that_stands_out_is_flagged_and_stays():
    result = evaluate(pairs([*NEW, 900.0], [*CURRENT, 100.0]))
    assert result.finding("lot_ratio").n == 11
    assert [(r.kind, r.rows) for r in result.remarks if "Grubbs" in r.text] == [("flag", "12")]


@pytest.mark.parametrize(
    ("columns", "keys"),
    [
        (pairs(), equivalence()),
        (pairs(level=AT), equivalence(design=LEVELS)),
        (pairs(), equivalence(**DIFFERENCE)),
        (pairs(), equivalence(paired="no")),
        (pairs(), equivalence(paired="no", **DIFFERENCE)),
        (pairs(group=list("aabbccddee")), equivalence(group_means="yes")),
        (pairs(), shift_detection(10)),
        (pairs(), shift_detection(10, form="difference", shift={"absolute": "20", "reason": "x"},
                                  spread={"s_r": "8", "df": "30", "source": "x"})),
        (joined(pairs(replicate=["1"] * 10), pairs(CURRENT, NEW, replicate=["2"] * 10)), equivalence()),
    ],
)  # fmt: skip
def test_the_printed_arithmetic_gives_the_finding(columns, keys):
    result = evaluate(columns, method={"limit": 100.0}, **keys)
    worked = [f for f in result.findings if f.working]
    assert worked
    for finding in worked:
        assert recompute(finding.working) == pytest.approx(finding.value, rel=1e-9), finding.name
        shown = finding.interval("shown")
        if shown is not None:
            assert recompute_limits(finding) == pytest.approx((shown.low, shown.high), rel=1e-9), finding.name


def test_error_rates_of_the_rule_stand_beside_it():
    rates = next(t for t in evaluate(pairs(NEW[:6], CURRENT[:6]), **shift_detection()).tables if t.name == "rates")
    _, level, n, unchanged, shifted = rates.rows[0]
    assert (level, n, unchanged) == ("all", 6, 95)
    s, t = math.sqrt(2) * 0.08, stats.t.ppf(0.975, 30)
    delta = math.log(1.2) * math.sqrt(6) / s
    hidden = stats.nct.cdf(t, 30, delta) - stats.nct.cdf(-t, 30, delta)
    assert shifted == pytest.approx(100 * hidden, rel=1e-6)
    rates = next(t for t in evaluate().tables if t.name == "rates")
    assert rates.rows[0][5] == pytest.approx(5, abs=0.01)


def test_more_pairs_than_planned_are_still_held_against_the_limit_that_was_set_up():
    rates = next(t for t in evaluate(pairs(), **shift_detection(6)).tables if t.name == "rates")
    limit, u = stats.t.ppf(0.975, 30) * math.sqrt(2) * 0.08 / math.sqrt(6), math.sqrt(2) * 0.08 / math.sqrt(10)
    assert rates.rows[0][3] == pytest.approx(100 * (1 - 2 * stats.norm.sf(limit / u)))


def test_spread_for_shift_detection_is_that_of_the_mean_of_the_replicates():
    from validate.studies.lot_comparison.tests.lots_bench import settings

    keys = shift_detection(6)
    keys["design"] |= {"replicates": "2"}
    assert settings(**keys).s_of_difference == pytest.approx(float(SPREAD["rsd_percent"]) / 100)
