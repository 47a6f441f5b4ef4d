"""What a linearity study computes, against sums by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from validate.studies.linearity.tests.linearity_bench import X, Y, evaluate, finding_of, own, table_of, texts, value

LEVELS = ("1", "2", "5", "10", "20", "40")
FIVE = [1, 2, 3, 4, 5]


def fitted(x: list[float], y: list[float], w: list[float] | None = None) -> tuple[float, float]:
    """Intercept and slope by the normal equations of a general library."""
    weights = None if w is None else np.sqrt(w)
    slope, intercept = np.polyfit(x, y, 1, w=weights)
    return float(intercept), float(slope)


def test_deviation_is_the_level_mean_read_back_from_the_line() -> None:
    a, b = fitted(X, Y)
    found = ((2.2 + 2.4) / 2 - a) / b
    assert value(evaluate(), "deviation", "1") == pytest.approx(100 * (found - 1), rel=1e-9)


def test_limits_of_a_level_rest_on_the_scatter_within_levels() -> None:
    """Six duplicates: s² = Σ(half differences²)·2/6 on 6 df; u = 100·s/(√2·b·x)."""
    b = fitted(X, Y)[1]
    s = math.sqrt(sum((Y[i] - Y[i + 1]) ** 2 / 2 for i in range(0, 12, 2)) / 6)
    finding = finding_of(evaluate(), "deviation", "5")
    half = stats.t.ppf(0.95, 6) * 100 * s / math.sqrt(2) / b / 5
    assert finding.df == 6
    assert finding.interval("met").high - finding.value == pytest.approx(half, rel=1e-9)


def test_largest_deviation_covers_the_levels_and_the_curve() -> None:
    result = evaluate()
    distances = [abs(value(result, "deviation", level)) for level in LEVELS] + [value(result, "curvature_deviation")]
    assert value(result, "largest_deviation") == max(distances)


def test_upper_limit_of_the_largest_deviation_is_the_farthest_end_of_all_limits() -> None:
    """Below a bound exactly when every level and the curve lie within ± the bound."""
    result = evaluate()
    ends = [finding_of(result, "curvature_deviation").interval("met").high]
    for level in LEVELS:
        interval = finding_of(result, "deviation", level).interval("met")
        ends += [abs(interval.low), abs(interval.high)]
    assert finding_of(result, "largest_deviation").interval("met").high == pytest.approx(max(ends), rel=1e-12)


def test_not_met_counts_the_comparisons_inside_the_largest_deviation() -> None:
    """K = 3 criteria, six levels and the curve inside one of them: α is divided by 9."""
    assert finding_of(evaluate(comparisons=3), "largest_deviation").interval("not_met").level == pytest.approx(
        1 - 0.1 / 9
    )


def test_a_bend_is_found_where_the_levels_alone_hide_it() -> None:
    """y = x − x²/20 without scatter: the curve lies farther from the line than any mean is shown to."""
    y = [v - v * v / 20 + e for v in FIVE for e in (0.01, -0.01)]
    result = evaluate([v for v in FIVE for _ in (0, 1)], y)
    c = np.polyfit([v for v in FIVE for _ in (0, 1)], y, 2)
    a, b = fitted([v for v in FIVE for _ in (0, 1)], y)
    grid = np.linspace(1, 5, 4001)
    farthest = np.max(np.abs(100 * (np.polyval(c, grid) - a - b * grid) / (b * grid)))
    assert value(result, "curvature_deviation") == pytest.approx(farthest, rel=1e-6)


def test_weights_are_the_inverse_square_of_the_level() -> None:
    a, b = fitted(X, Y, [1 / v**2 for v in X])
    result = evaluate(weights="1/x^2")
    assert (value(result, "intercept"), value(result, "slope")) == (pytest.approx(a), pytest.approx(b))


def test_weights_by_function_are_the_inverse_of_its_square() -> None:
    a, b = fitted(X, Y, [1 / (0.1**2 + (0.05 * v) ** 2) for v in X])
    function = {"constant": "0.1", "relative_percent": "5"}
    result = evaluate(weights="variance function", variance_function=function)
    assert (value(result, "intercept"), value(result, "slope")) == (pytest.approx(a), pytest.approx(b))


def test_weights_do_not_rise_below_their_floor() -> None:
    x, y = [0, 0, *X], [0.1, 0.3, *Y]
    a, b = fitted(x, y, [1 / max(v, 2.0) for v in x])
    result = evaluate(x, y, weights="1/x", weight_floor="2")
    assert (value(result, "intercept"), value(result, "slope")) == (pytest.approx(a), pytest.approx(b))


def test_weighted_line_gives_no_single_method_sd() -> None:
    assert "declaration" in (finding_of(evaluate(weights="1/x"), "method_sd").reason or "")


def test_level_zero_enters_the_line_but_has_no_percentage() -> None:
    result = evaluate([0, 0, *X], [0.1, 0.3, *Y])
    assert result.finding("deviation", "0") is None
    assert value(result, "intercept") == pytest.approx(fitted([0, 0, *X], [0.1, 0.3, *Y])[0])


def test_line_through_the_origin_has_no_intercept_and_another_r_squared() -> None:
    result = evaluate(through_origin="yes")
    assert value(result, "slope") == pytest.approx(np.dot(X, Y) / np.dot(X, X))
    assert finding_of(result, "intercept").value is None
    assert "uncentred" in result.facts["correlation"] and "r = " not in result.facts["correlation"]


def test_means_of_days_carry_the_limits_where_days_are_recorded() -> None:
    """Two days: 1 degree of freedom at each level, whatever the replicates."""
    finding = finding_of(evaluate(columns={"day": ["a", "b"] * 6}), "deviation", "10")
    b = fitted(X, Y)[1]
    u = 100 * abs(20.5 - 20.1) / 2 / b / 10
    assert (finding.df, finding.groups) == (1, 2)
    assert finding.sampling.se == pytest.approx(u, rel=1e-9)


def test_lines_of_single_days_stand_side_by_side() -> None:
    rows = table_of(evaluate(columns={"day": ["a", "b"] * 6}), "days").rows
    assert [row[0] for row in rows] == ["a", "b"]
    assert rows[0][2] == pytest.approx(fitted(X[::2], Y[::2])[1])


def test_shown_content_is_held_against_the_nominal_one() -> None:
    """An instrument that reads 10 % low everywhere has a straight line and deviates by −10 %."""
    found = [0.9 * v * (1 + e) for v, e in zip(X, [0.001, -0.001] * 6, strict=True)]
    result = evaluate(X, found, form="found against nominal")
    assert value(result, "deviation", "5") == pytest.approx(-10)
    assert value(result, "slope") == pytest.approx(0.9, rel=1e-3)
    assert value(result, "largest_deviation") == pytest.approx(10)


def test_censored_readings_forbid_a_verdict_and_are_never_zero() -> None:
    found = ["<1", 1.1, 2.1, 2.0, 5.2, 5.0, 10.1, 9.9, 20.2, 20.1, 40.4, 39.9]
    result = evaluate(X, found, form="found against nominal")
    assert finding_of(result, "deviation", "1").blocked == ("1 of 2 readings are censored",)
    assert any("censored" in reason for reason in finding_of(result, "largest_deviation").blocked)


def test_display_coarser_than_the_scatter_forbids_a_verdict() -> None:
    result = evaluate(signal={"resolution": "5"})
    assert "half the resolution" in finding_of(result, "deviation", "40").blocked[0]


def test_readings_that_repeat_exactly_forbid_a_verdict() -> None:
    result = evaluate(X, [0.1 + 2 * v for v in X])
    assert "repeat exactly" in finding_of(result, "deviation", "5").blocked[0]
    assert finding_of(result, "largest_deviation").blocked


def test_four_levels_give_no_verdict_on_the_whole_line() -> None:
    result = evaluate(X[:8], Y[:8])
    assert "4 levels above 0" in finding_of(result, "largest_deviation").blocked[0]
    assert finding_of(result, "deviation", "5").blocked == ()


def test_missing_level_forbids_a_verdict_on_the_whole_line() -> None:
    result = evaluate(X[:-2], Y[:-2], levels=LEVELS)
    assert "no reading at level 40" in finding_of(result, "largest_deviation").blocked
    assert finding_of(result, "deviation", "40").reason == "no reading at this level"


def test_slope_that_could_be_zero_forbids_a_verdict() -> None:
    y = [3.0, 5.0, 4.0, 4.5, 3.5, 5.5, 4.2, 4.1, 5.0, 3.2, 4.6, 4.4]
    assert "slope" in finding_of(evaluate(X, y), "deviation", "5").blocked[0]


def test_single_readings_take_their_limits_from_the_line_and_say_so() -> None:
    result = evaluate(X[::2], Y[::2])
    assert finding_of(result, "deviation", "5").df == 4
    assert "No level was measured twice" in texts(result)


def test_significant_bend_within_the_bound_is_told_and_decides_nothing() -> None:
    x = [v for v in (1, 2, 3, 4, 5, 6) for _ in range(3)]
    y = [v + 0.004 * v * v + e for v, e in zip(x, [0.001, 0.0, -0.001] * 6, strict=True)]
    result = evaluate(x, y, accept=own("largest_deviation", at_most="15"))
    assert "A bend is significant, yet" in texts(result)
    assert finding_of(result, "largest_deviation").interval("met").high < 15


@pytest.mark.parametrize(
    ("replicates", "test"), [(2, "Cochran"), (3, "Cochran"), (4, "Levene on medians"), (6, "Levene on medians")]
)
def test_homogeneity_is_tested_by_the_number_of_readings(replicates: int, test: str) -> None:
    noise = [0.02, -0.01, 0.015, -0.02, 0.005, -0.008]
    x = [v for v in FIVE for _ in range(replicates)]
    y = [2 * v + noise[(i + v) % 6] for v in FIVE for i in range(replicates)]
    assert table_of(evaluate(x, y), "diagnostics").rows[2][0].startswith(test)


def test_unequal_numbers_of_readings_are_tested_by_the_spread_against_the_level() -> None:
    rows = table_of(evaluate([*X, 40], [*Y, 80.2]), "diagnostics").rows
    assert rows[2][0] == "slope of lg s on lg level"


def test_unequal_scatter_without_weights_is_warned_about() -> None:
    y = [2 * v + e for v, e in zip(X, [0.001, -0.001] * 5 + [2.0, -2.0], strict=True)]
    assert "Declare weights" in texts(evaluate(X, y))


def test_step_of_the_display_enters_the_limits_where_it_hides_the_scatter() -> None:
    """Uniform over one step of 5: its variance 5²/12 joins that of the mean."""
    b = fitted(X, Y)[1]
    coarse, fine = (
        finding_of(evaluate(signal=signal), "deviation", "40").sampling.se for signal in ({"resolution": "5"}, {})
    )
    assert coarse == pytest.approx(math.hypot(fine, 100 * 5 / math.sqrt(12) / b / 40), rel=1e-9)


def test_signal_is_read_back_with_the_weight_of_its_own_content() -> None:
    """s_x = (s/b)·√(1/w₀ + 1/Σw + (x̂ − x̄_w)²/S_xx), weights made to average 1, w₀ = 1/x̂² among them."""
    w = np.array([1 / v**2 for v in X])
    scale, x, y = w.mean(), np.array(X, float), np.array(Y)
    a, b = fitted(X, Y, w.tolist())
    w = w / scale
    s = math.sqrt(np.sum(w * (y - a - b * x) ** 2) / 10)
    content = (30.0 - a) / b
    middle = np.average(x, weights=w)
    own = content**2 * scale
    expected = s / b * math.sqrt(own + 1 / 12 + (content - middle) ** 2 / np.sum(w * (x - middle) ** 2))
    (row,) = table_of(evaluate(weights="1/x^2", read_back=["30"]), "read").rows
    assert (row[1], row[2]) == (pytest.approx(content, rel=1e-9), pytest.approx(expected, rel=1e-9))


def test_signal_outside_the_calibrated_levels_is_marked() -> None:
    rows = table_of(evaluate(read_back=["30", "200"]), "read").rows
    assert [row[5] for row in rows] == ["", "extrapolated"]
