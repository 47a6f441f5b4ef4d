"""Collaborative trials: published figures, the order of the tests, and what cannot be computed."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from validate.stats import interlaboratory as lab
from validate.stats import precision

ROOT = Path(__file__).parents[2]
POSITIVE, TOTAL = [7, 9, 6, 10, 5, 7, 5, 7, 11, 9], [12] * 10


def rows(path: str) -> list[dict[str, str]]:
    with (ROOT / path).open(encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def column(table: list[dict[str, str]], name: str) -> list[str]:
    return [row[name] for row in table]


SULFUR = rows("validate/checks/sulfur_in_coal.csv")


def sulfur_at(level: str) -> tuple[list[float], list[str]]:
    chosen = [row for row in SULFUR if row["level"] == level]
    return [float(row["sulfur_percent"]) for row in chosen], column(chosen, "laboratory")


def groups(*cells: list[float]) -> tuple[list[float], list[str]]:
    return [x for cell in cells for x in cell], [
        "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[i] for i, cell in enumerate(cells) for _ in cell
    ]


SOUND = [[5.1, 5.0], [5.2, 5.1], [4.9, 5.0], [5.1, 5.2], [5.0, 5.1], [5.3, 5.2], [5.0, 5.0], [5.1, 5.0]]


def test_sulfur_in_coal_gives_the_printed_summary_at_every_level() -> None:
    """ISO 5725-2:1994, Annex B.1 (from memory): m, s_r, s_R as printed; s_L recomputed from the data."""
    found = lab.accuracy_experiment(
        [float(x) for x in column(SULFUR, "sulfur_percent")], column(SULFUR, "laboratory"), column(SULFUR, "level")
    )
    printed = [
        ("0.690", "0.015", "0.026"),
        ("1.252", "0.029", "0.061"),
        ("1.667", "0.017", "0.035"),
        ("3.250", "0.026", "0.058"),
    ]
    assert [(f"{at.mean:.3f}", f"{at.s_r:.3f}", f"{at.s_R:.3f}") for at in found.levels] == printed
    assert [f"{at.s_L:.5f}" for at in found.levels] == ["0.02160", "0.05334", "0.03028", "0.05205"]
    assert [at.n_laboratories for at in found.levels] == [8] * 4 and [at.level for at in found.levels] == list("1234")


def test_precision_of_a_level_is_that_of_the_one_way_components() -> None:
    values, laboratories = sulfur_at("2")
    (at,) = lab.accuracy_experiment(values, laboratories, ["2"] * len(values)).levels
    one = precision.one_way(values, laboratories)
    assert (at.s_r, at.s_R, at.r, at.R) == (one.s_r, one.s_intermediate, 2.8 * one.s_r, 2.8 * one.s_intermediate)


def test_a_level_of_one_laboratory_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="level low: 1 laboratory found, at least 2 needed"):
        lab.accuracy_experiment([1.0, 1.1, 1.2], ["A", "A", "A"], ["low"] * 3)


@pytest.mark.parametrize(("p", "five", "one"), [(8, "1.75", "2.06"), (9, "1.78", "2.13"), (10, "1.80", "2.18")])
def test_indicator_values_of_h_are_the_printed_ones(p: int, five: str, one: str) -> None:
    """ISO 5725-2:1994, Table 6 (from memory)."""
    found = lab.mandel_h(range(p))
    assert (f"{found.critical_5:.2f}", f"{found.critical_1:.2f}") == (five, one)


@pytest.mark.parametrize(
    ("p", "n", "five", "one"),
    [(9, 2, "1.8957", "2.2938"), (8, 3, "1.6689", "1.9638"), (20, 3, "1.7080", "2.0748"), (3, 2, "1.6454", "1.7147")],
)
def test_indicator_values_of_k_are_those_of_the_formula(p: int, n: int, five: str, one: str) -> None:
    """ISO 5725-2:1994, Table 7: formula from memory, values computed apart from this code."""
    found = lab.mandel_k([1.0] * p, n)
    assert (f"{found.critical_5:.4f}", f"{found.critical_1:.4f}") == (five, one)


def test_h_and_k_keep_their_identities() -> None:
    """Σh = 0, Σh² = p − 1, Σk² = p: what the definitions imply."""
    h = np.array(lab.mandel_h([1.0, 1.3, 0.8, 1.1, 1.7]).values)
    k = np.array(lab.mandel_k([0.1, 0.3, 0.2, 0.1, 0.0], 2).values)
    assert (h.sum(), (h**2).sum(), (k**2).sum()) == pytest.approx((0, 4, 5), abs=1e-12)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: lab.mandel_h([0.1 + 0.2, 0.3, 0.3]), "equal"),
        (lambda: lab.mandel_h([1, 2]), "at least 3"),
        (lambda: lab.mandel_k([0, 0, 0], 2), "all cell standard deviations are 0"),
        (lambda: lab.mandel_k([0.1, -0.1], 2), "negative"),
        (lambda: lab.screen([1.0, 1.1], ["A", "A"]), "1 laboratory found"),
        (lambda: lab.screen([1.0, math.nan], ["A", "B"]), "without a number"),
        (lambda: lab.split_level([1, 2, 3, 4], [1, 2, 3]), "4 first and 3 second"),
        (lambda: lab.detection_across_laboratories([13], [12]), "at least 2"),
        (lambda: lab.detection_across_laboratories([13, 2], [12, 12]), "from 0 to the number"),
        (lambda: lab.detection_across_laboratories([1, 2], [1, 12]), "at least 2"),
    ],
)
def test_what_cannot_be_computed_is_refused_with_the_reason(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()


def test_sound_laboratories_pass_every_test_in_order() -> None:
    found = lab.screen(*groups(*SOUND))
    assert [step.test for step in found.steps] == [
        "Cochran",
        "Grubbs, highest",
        "Grubbs, two highest",
        "Grubbs, two lowest",
    ]
    assert {step.word for step in found.steps} == {"nothing"} and found.removed == ()


def test_a_cell_of_wide_scatter_leaves_and_the_variances_are_tested_once_more() -> None:
    found = lab.screen(*groups(*SOUND, [4.2, 6.0]))
    assert [(s.test, s.laboratories, s.removed) for s in found.steps[:2]] == [
        ("Cochran", ("I",), True),
        ("Cochran, repeated", found.steps[1].laboratories, False),
    ]
    assert found.removed == ("I",)


def test_after_an_outlying_mean_the_opposite_end_is_tested_and_no_pair() -> None:
    found = lab.screen(*groups(*SOUND, *SOUND, [7.0, 7.1]))
    assert [(s.test, s.word) for s in found.steps[1:]] == [
        ("Grubbs, highest", "outlier"),
        ("Grubbs, lowest, after removal", "nothing"),
    ]
    # The end was not named beforehand: two-sided points of 16 means (ISO 5725-2, Table 5).
    assert (found.steps[2].critical_5, found.steps[2].critical_1) == pytest.approx((2.5857, 2.8521), abs=5e-5)


def test_two_high_laboratories_that_hide_each_other_are_found_as_a_pair() -> None:
    found = lab.screen(*groups(*SOUND, [5.1, 5.1], [6.4, 6.5], [6.6, 6.5]))
    assert [(s.test, s.laboratories, s.removed) for s in found.steps[2:]] == [("Grubbs, two highest", ("K", "J"), True)]
    assert found.removed == ("K", "J")


def test_no_more_than_two_ninths_of_the_laboratories_leave() -> None:
    """Eight laboratories may lose one: after Cochran took one, the outlying mean stays and is told."""
    cells = [*SOUND[:6], [4.0, 6.2], [9.0, 9.1]]
    found = lab.screen(*groups(*cells))
    assert found.removed == ("G",) and found.stopped
    (kept,) = (step for step in found.steps if step.reason)
    assert (kept.laboratories, kept.word, kept.removed) == (("H",), "outlier", False)
    assert "2/9" in kept.reason and found.steps[-1] is kept


def test_one_high_and_one_low_mean_of_the_same_size_hide_each_other_from_the_single_test() -> None:
    found = lab.screen(*groups(*SOUND, [6.0, 6.1], [4.1, 4.0]))
    assert found.removed == () and len(found.steps) == 4


def test_a_mean_between_the_points_is_a_straggler_and_leaves_only_under_the_sharper_rule() -> None:
    """By hand: G = (5.55 − 5.1333)/0.1803 = 2.311, between 2.215 and 2.387 for nine laboratories."""
    values, names = groups(*SOUND, [5.5, 5.6])
    found = lab.screen(values, names)
    assert (found.steps[1].word, found.steps[1].statistic) == ("straggler", pytest.approx(2.31125, abs=5e-6))
    assert found.removed == () and found.stragglers[0] == "I"
    assert lab.screen(values, names, removal=0.05).removed == ("I",)


def test_stragglers_are_named_and_stay() -> None:
    """Sulfur in coal, level 2: no mean stands out alone, laboratories 6 and 3 (1.373, 1.297) do together at 5 %."""
    found = lab.screen(*sulfur_at("2"))
    (step,) = (s for s in found.steps if s.word == "straggler")
    assert (step.test, step.laboratories) == ("Grubbs, two highest", ("6", "3"))
    assert step.critical_1 < step.statistic < step.critical_5
    assert found.removed == () and found.stragglers == ("6", "3")


def test_standard_deviations_that_are_all_zero_leave_cochran_untested_with_the_reason() -> None:
    found = lab.screen(*groups([1.0, 1.0], [1.1, 1.1], [1.2, 1.2], [1.05, 1.05]))
    assert (found.steps[0].word, found.steps[0].reason) == ("not tested", "all standard deviations are 0")


def test_order_of_the_results_does_not_matter_to_the_tests() -> None:
    values, names = groups(*SOUND, [5.1, 5.1], [6.4, 6.5], [6.6, 6.5])
    order = np.random.default_rng(7).permutation(len(values))
    again = lab.screen([values[i] for i in order], [names[i] for i in order])
    assert set(again.removed) == set(lab.screen(values, names).removed)


def test_split_levels_give_the_precision_that_their_components_imply() -> None:
    """Constructed: differences ±d alternate, so s_D = d·√(p/(p − 1)); averages equal the laboratory effects."""
    effect, d = np.array([-1.0, 1.0, -1.0, 1.0]), np.array([0.2, 0.2, -0.2, -0.2])
    found = lab.split_level(10 + effect + d / 2, 12 + effect - d / 2)
    s_d, s_y = 0.2 * math.sqrt(4 / 3), math.sqrt(4 / 3)
    assert (found.s_D, found.s_y, found.s_r) == pytest.approx((s_d, s_y, s_d / math.sqrt(2)), rel=1e-12)
    assert found.s_R == pytest.approx(math.sqrt(s_y**2 + s_d**2 / 4), rel=1e-12)
    assert found.s_R**2 == pytest.approx(found.s_L**2 + found.s_r**2, rel=1e-12)
    assert found.mean_difference == pytest.approx(-2.0)


def test_a_split_level_of_equal_samples_has_the_one_way_components_without_the_sample_difference() -> None:
    """With equal means of both samples, s_y² is the variance of cell means and s_r² the scatter of differences."""
    a, b = np.array([10.0, 10.4, 9.8, 10.2, 10.1]), np.array([10.1, 10.2, 9.9, 10.4, 9.9])
    found = lab.split_level(a, b)
    one = precision.one_way(np.concatenate((a, b)), [*"ABCDE"] * 2)
    assert found.s_y**2 == pytest.approx(one.variance_of_means, rel=1e-12)
    # Σ(a−b)² = Σ(d−d̄)² + p·d̄²: the one-way s_r keeps the mean difference, the split level does not.
    assert one.s_r**2 == pytest.approx((4 * found.s_D**2 + 5 * found.mean_difference**2) / 10, rel=1e-12)


def test_probability_of_detection_across_laboratories_is_the_printed_one() -> None:
    """AOAC Appendix J (2012), Table F1. The print rounds s_r² to 0.2242 and s_r²/n to 0.0187 on its way to
    s_L 0.1045 and s_R 0.4849; unrounded they are 0.1046 and 0.4850 (0.48496)."""
    found = lab.detection_across_laboratories(POSITIVE, TOTAL)
    assert (found.detected, found.n) == (76, 120)
    assert (f"{found.lpod:.4f}", f"{found.s_r**2:.4f}", f"{found.s_r:.4f}") == ("0.6333", "0.2242", "0.4735")
    assert f"{found.s_pod**2:.5f}" == "0.02963"
    assert found.s_L == pytest.approx(0.1045, abs=1.5e-4) and found.s_R == pytest.approx(0.4849, abs=1.5e-4)
    chain = 0.02963 - 0.0187
    assert f"{chain:.5f}" == "0.01093" and f"{math.sqrt(0.2242 + chain):.4f}" == "0.4849"
    assert (found.lpod_limits.low, found.lpod_limits.high) == pytest.approx((0.510197, 0.75647), abs=5e-7)


def test_binary_components_are_the_one_way_components_of_zeros_and_ones() -> None:
    counts, sizes = [3, 8, 5, 2, 6], [8, 12, 10, 9, 8]
    ones = [float(j < x) for x, n in zip(counts, sizes, strict=True) for j in range(n)]
    names = [i for i, n in enumerate(sizes) for _ in range(n)]
    found, one = lab.detection_across_laboratories(counts, sizes), precision.one_way(ones, names)
    assert (found.s_r, found.variance_L_raw, found.s_R) == pytest.approx(
        (one.s_r, one.variance_between_raw, one.s_intermediate), rel=1e-12
    )


def test_limits_of_binary_reproducibility_are_those_of_lpod() -> None:
    """By hand: LPOD 0.510197 to 0.75647 holds no 0.5: √(0.75647·0.24353) to √(0.510197·0.489803)."""
    found = lab.detection_across_laboratories(POSITIVE, TOTAL)
    ends = math.sqrt(0.75647 * 0.24353), math.sqrt(0.510197 * 0.489803)
    assert (found.s_R_limits.low, found.s_R_limits.high) == pytest.approx(ends, abs=1e-5)
    low, high = found.s_L_limits.low, found.s_L_limits.high
    wide = math.sqrt(ends[0] ** 2 - high**2), math.sqrt(ends[1] ** 2 - low**2)
    assert (found.s_r_limits.low, found.s_r_limits.high) == pytest.approx(wide, abs=1e-5)


@pytest.mark.parametrize("counts", [[6] * 10, [0, 12] * 5, [1, *[0] * 9], [11, *[12] * 9], [1, 1, 0, 0]])
def test_limits_of_binary_scatter_hold_the_estimate_and_stay_within_what_a_0_or_1_can_scatter(counts) -> None:
    size = 12 if max(counts) > 1 else 2
    found = lab.detection_across_laboratories(counts, [size] * len(counts))
    for name in ("s_r", "s_L", "s_R"):
        value, limits = getattr(found, name), getattr(found, f"{name}_limits")
        assert 0 <= limits.low <= value <= limits.high <= max(0.5, value)


def test_limits_of_one_proportion_are_called_too_narrow_where_laboratories_differ() -> None:
    alike = lab.detection_across_laboratories([1, 0, 1, 1, 0, 1], [12] * 6)
    differing = lab.detection_across_laboratories([6, 0, 0, 0, 0, 0], [12] * 6)
    inside = lab.detection_across_laboratories([12, 0, 12, 0, 0, 0], [12] * 6)
    assert (alike.too_narrow, differing.too_narrow, inside.too_narrow) == (False, True, False)


def test_nothing_detected_bounds_the_probability_from_above_only() -> None:
    """AOAC Appendix J: at LPOD 0 the upper limit is 3.8415/(N + 3.8415), at 1 the lower one N/(N + 3.8415)."""
    none = lab.detection_across_laboratories([0, 0, 0], [12] * 3)
    every = lab.detection_across_laboratories([12] * 3, [12] * 3)
    assert (none.lpod_limits.low, none.lpod_limits.high) == pytest.approx((0, 3.8415 / 39.8415), abs=1e-6)
    assert (every.lpod_limits.low, every.lpod_limits.high) == pytest.approx((36 / 39.8415, 1), abs=1e-6)
    assert none.s_R == 0 and none.s_R_limits is None and none.p_value is None


def test_cochran_looks_within_runs_where_results_belong_to_runs() -> None:
    """Runs far apart, duplicates close: the scatter of a laboratory is that of its duplicates, on n − k df."""
    values = [1.0, 1.1, 2.0, 2.1, 1.0, 1.2, 3.0, 3.2]
    first, second = lab.cells_of(values, [*"AAAABBBB"], run=[1, 1, 2, 2, 1, 1, 2, 2])
    assert (first.sd, first.df) == (pytest.approx(math.sqrt(0.01 / 2)), 2)
    assert (second.sd, second.mean) == (pytest.approx(math.sqrt(0.04 / 2)), pytest.approx(2.1))
