"""Both rules, what follows from them, and stability: figures and verdicts through the pipeline."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from validate.studies.homogeneity.tests.homogeneity_bench import TEN, duplicates, evaluated, requirement, study
from validate.vocabulary.verdict import Verdict

# Unit means 0 ± d and pairs ± e: s_an = e·√2, variance of unit means known by hand.
ALIKE = TEN
WIDE = [(100 + d + 1, 100 + d - 1) for d in (-8, -6, -4, -2, -1, 1, 2, 4, 6, 8)]
BETWEEN = [(100 + d + 4, 100 + d - 4) for d in (-6, -5, -4, -3, -1, 1, 3, 4, 5, 6)]


def table(evaluation, name):
    return next(t for t in study(evaluation).as_reported.tables if t.name == name)


@pytest.mark.parametrize(
    ("pairs", "sigma", "verdict", "word"),
    [
        (ALIKE, 10, Verdict.MET, "sufficient"),
        (BETWEEN, 5, Verdict.NOT_SHOWN, "not shown"),
        (WIDE, 10, Verdict.NOT_MET, "not sufficient"),
    ],
)
def test_the_verdict_follows_from_both_rules(tmp_path, pairs, sigma, verdict, word) -> None:
    evaluation = evaluated(tmp_path, duplicates(pairs), sigma=f"{{value: {sigma}, source: test}}")
    assert requirement(evaluation, "s_sam_share").as_reported.verdict is verdict
    assert study(evaluation).conclusion.words == word
    assert table(evaluation, "rules").rows[0][-1] == word


def test_between_the_rules_both_comparisons_stand_in_the_reason(tmp_path) -> None:
    """By hand: MS_w = 32, s²(means) = 174/9, s_sam² = 19.33 − 16 = 3.33; 0.3·σ_pt = 1.5 with σ_pt 5."""
    evaluation = evaluated(tmp_path, duplicates(BETWEEN), sigma="{value: 5, source: test}")
    reason = requirement(evaluation, "s_sam_share").as_reported.reason
    assert f"s_sam {math.sqrt(174 / 9 - 16):.4g} is above 0.3·σ_pt = 1.5 (ISO 13528)" in reason
    assert "is not above √(F₁·(0.3·σ_pt)² + F₂·s_an²)" in reason


@pytest.mark.parametrize(
    ("consequence", "words"),
    [("widen", "σ′ = 11.2 µg/kg"), ("refuse", "the material is not used"), ("carry", "u_hom = 5.09 µg/kg")],
)
def test_units_that_are_not_alike_have_the_consequence_that_was_declared(tmp_path, consequence, words) -> None:
    """By hand: variance of the unit means 242/9, MS_w 2: s_sam = √(242/9 − 1) = 5.09; σ′ = √(100 + s_sam²) = 11.2."""
    evaluation = evaluated(tmp_path, duplicates(WIDE), consequence=consequence)
    s_sam = math.sqrt(2 * (64 + 36 + 16 + 4 + 1) / 9 - 1)
    found = study(evaluation).as_reported
    assert found.finding("s_sam").value == pytest.approx(s_sam)
    assert found.finding("sigma_widened").value == pytest.approx(math.hypot(10, s_sam))
    told = " ".join(study(evaluation).conclusion.sentences)
    assert words in told and "As declared beforehand" in told


@pytest.mark.parametrize(
    ("sigma", "value"),
    [("percent: 8", 0.08 * 100.1), ("model: horwitz", 100.1 * 2 ** (1 - 0.5 * math.log10(100.1e-9)) / 100)],
)
def test_sigma_follows_from_the_general_mean_where_it_is_declared_so(tmp_path, sigma, value) -> None:
    """The mean of the twenty results is 100.1 µg/kg."""
    found = study(evaluated(tmp_path, duplicates(ALIKE), sigma=f"{{{sigma}, source: test}}")).as_reported
    share = found.finding("s_sam").value / found.finding("s_sam_share").value
    assert share == pytest.approx(value)


def test_where_units_do_not_scatter_u_hom_is_what_repeatability_could_hide(tmp_path) -> None:
    """Equal unit means, D = 2: MS_w = 2 on 10 degrees of freedom, u_hom = √(2/2)·(2/10)^¼."""
    found = study(evaluated(tmp_path, duplicates([(99, 101)] * 10))).as_reported
    assert found.finding("s_sam").value == 0 and found.finding("u_hom").value == pytest.approx(0.2**0.25)


def test_nine_units_give_no_verdict(tmp_path) -> None:
    verdict = requirement(evaluated(tmp_path, duplicates(ALIKE[:9])), "s_sam_share").as_reported
    assert verdict.verdict is Verdict.NOT_SHOWN and "at least 10" in verdict.reason


def test_more_replicates_than_two_are_taken(tmp_path) -> None:
    pairs = [(x, y, (x + y) / 2) for x, y in ALIKE]
    found = study(evaluated(tmp_path, duplicates(pairs), design="{replicates: 3}")).as_reported
    assert (found.finding("s_an").n, found.finding("s_an").df) == (30, 20)
    assert found.finding("s_an").value == pytest.approx(math.sqrt(sum((x - y) ** 2 / 2 for x, y in ALIKE) / 20))


def test_a_pair_that_disagrees_is_flagged_and_both_results_stand(tmp_path) -> None:
    evaluation = evaluated(tmp_path, duplicates([*ALIKE[:-1], (90, 112)]))
    rules = table(evaluation, "rules").rows
    assert [row[0] for row in rules] == ["all units", "without unit U10"]
    assert rules[0][1:3] != rules[1][1:3]
    (flag,) = (r for r in study(evaluation).as_reported.remarks if r.kind == "flag" and "Cochran" in r.text)
    assert flag.rows == "20-21"


def test_a_pair_between_the_two_points_of_cochran_is_flagged_at_5_percent(tmp_path) -> None:
    """By hand: eight pairs differ by 2 at most, one by 7: C = 49/(49 + 28) = 0.636, between 0.602 and 0.718."""
    found = study(evaluated(tmp_path, duplicates([*ALIKE[:-1], (103, 96)]))).as_reported
    (flag,) = (r.text for r in found.remarks if r.kind == "flag" and "Cochran" in r.text)
    assert "unit U10" in flag and "(5 %)" in flag


def test_a_trend_over_the_filling_order_is_flagged(tmp_path) -> None:
    evaluation = evaluated(tmp_path, duplicates([(100 + i + 0.5, 100 + i - 0.5) for i in range(10)]))
    found = study(evaluation).as_reported
    assert found.finding("filling_trend").value == pytest.approx(9.0)
    assert any("filling order" in r.text for r in found.remarks if r.kind == "flag")


def test_a_measurement_too_coarse_for_the_question_is_warned_about(tmp_path) -> None:
    found = study(evaluated(tmp_path, duplicates(BETWEEN), sigma="{value: 8, source: test}")).as_reported
    assert any("too coarse" in r.text for r in found.remarks if r.kind == "warning")


LATER = [(100, 101), (99, 100), (101, 100)]


def test_a_change_within_the_limit_is_shown_by_its_interval(tmp_path) -> None:
    """By hand: unit means later 100.5, 99.5, 100.5; first mean of the unit means 100.1."""
    evaluation = evaluated(tmp_path, duplicates(ALIKE) + duplicates(LATER, days=30, start=50), stability="{period: 30}")
    found = study(evaluation).as_reported
    assert found.finding("stability_change").value == pytest.approx(100.5 - 1 / 3 - 100.1)
    assert requirement(evaluation, "stability_share").as_reported.verdict is Verdict.MET


@pytest.mark.parametrize(("use", "level"), [("shown", 0.95), ("met", 0.90), ("not_met", 0.95)])
def test_intervals_of_the_change_are_those_of_a_general_library(tmp_path, use, level) -> None:
    """scipy, Welch on unit means; `not met` allows for two judged figures: 1 − 2·5 %/2."""
    evaluation = evaluated(tmp_path, duplicates(ALIKE) + duplicates(LATER, days=30, start=50), stability="{period: 30}")
    found = study(evaluation).as_reported.finding("stability_share").interval(use)
    before, after = ([sum(pair) / 2 for pair in pairs] for pairs in (ALIKE, LATER))
    wanted = stats.ttest_ind(after, before, equal_var=False).confidence_interval(level)
    assert found.level == pytest.approx(level)
    assert (found.low, found.high) == pytest.approx((wanted.low / 10, wanted.high / 10))


def test_the_widened_form_is_printed_and_never_a_verdict(tmp_path) -> None:
    """A change of 5 against a limit of 3: three unlike units make the widened form pass, not the verdict."""
    later = [(95, 95), (105, 105), (85, 85)]
    evaluation = evaluated(tmp_path, duplicates(ALIKE) + duplicates(later, days=30, start=50), stability="{period: 30}")
    assert requirement(evaluation, "stability_share").as_reported.verdict is Verdict.NOT_SHOWN
    assert "|Δ| is not above it" in table(evaluation, "occasions").note


def test_a_material_that_changed_is_not_stable(tmp_path) -> None:
    later = [(110, 111), (109, 110), (111, 110)]
    evaluation = evaluated(tmp_path, duplicates(ALIKE) + duplicates(later, days=30, start=50), stability="{period: 30}")
    assert requirement(evaluation, "stability_share").as_reported.verdict is Verdict.NOT_MET
    assert study(evaluation).conclusion.words == "not sufficient"


def test_nobody_has_looked_beyond_the_last_occasion(tmp_path) -> None:
    evaluation = evaluated(tmp_path, duplicates(ALIKE) + duplicates(LATER, days=30, start=50), stability="{period: 60}")
    verdict = requirement(evaluation, "stability_share").as_reported
    assert verdict.verdict is Verdict.NOT_SHOWN and "used for 60 days" in verdict.reason


def test_several_occasions_are_judged_along_their_line(tmp_path) -> None:
    rows = duplicates(ALIKE)
    for day, mean in ((20, 100.0), (40, 100.3), (60, 99.8)):
        rows += duplicates([(mean, mean + 0.2), (mean + 0.1, mean - 0.1)], days=day, start=day)
    found = study(evaluated(tmp_path, rows, stability="{period: 60}")).as_reported
    change = found.finding("stability_change")
    assert change.n == 4 and change.df == 2
    days, means = [0, 20, 40, 60], [100.1, 100.05, 100.35, 99.85]
    slope = sum((d - 30) * m for d, m in zip(days, means, strict=True)) / sum((d - 30) ** 2 for d in days)
    assert change.value == pytest.approx(60 * slope)
