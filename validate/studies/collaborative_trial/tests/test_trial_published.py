"""Published figures, from the protocols that ship with the project to the findings."""

from __future__ import annotations

import tomllib

import pytest

from validate.studies.collaborative_trial.tests.trial_bench import ROOT, published, table, value

SPECIMENS = dict(
    zip(
        ("S1", "S2", "S3", "S4", "S5", "S6", "S7"),
        ("0.508", "0.366", "1.08", "0.642", "7.76", "1.79", "1.31"),
        strict=True,
    )
)


@pytest.fixture(scope="module")
def sulfur():
    return published("sulfur-in-coal")


@pytest.fixture(scope="module")
def coop():
    return published("coop")


@pytest.fixture(scope="module")
def components():
    text = (ROOT / "tests" / "data" / "general" / "variance_components.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@pytest.mark.parametrize(
    ("level", "mean", "s_r", "s_R"),
    [
        ("0.69", "0.690", "0.015", "0.026"),
        ("1.252", "1.252", "0.029", "0.061"),
        ("1.667", "1.667", "0.017", "0.035"),
        ("3.25", "3.250", "0.026", "0.058"),
    ],
)
def test_sulfur_in_coal_gives_the_printed_figures(sulfur, level, mean, s_r, s_R) -> None:
    """ISO 5725-2:1994, Annex B.1 (from memory): general mean, s_r and s_R as printed, at every level."""
    printed = {"mean": mean, "s_r": s_r, "s_reproducibility": s_R}
    assert {name: f"{value(sulfur, name, level):.3f}" for name in printed} == printed


def test_sulfur_in_coal_gives_the_recalled_cell_means_and_standard_deviations(sulfur) -> None:
    """ISO 5725-2:1994, B.1: means and SDs of laboratories 1, 3 and 5, to three decimals (from memory)."""
    cells = {(row[0], row[1]): (f"{row[3]:.3f}", f"{row[4]:.3f}", row[2]) for row in table(sulfur, "consistency").rows}
    assert cells["0.69", "3"] == ("0.667", "0.021", 3) and cells["0.69", "5"] == ("0.690", "0.019", 5)
    assert cells["3.25", "1"] == ("3.240", "0.028", 4) and cells["3.25", "3"] == ("3.370", "0.010", 3)
    assert cells["1.252", "5"][2] == 4


def test_nothing_leaves_the_levels_of_sulfur_in_coal(sulfur) -> None:
    """The published precision rests on all eight laboratories; stragglers stay."""
    outcomes = [row[-1] for row in table(sulfur, "screening").rows]
    assert not any(outcome.startswith("outlier") for outcome in outcomes)
    assert sum(outcome.startswith("straggler") for outcome in outcomes) == 2


def test_indicator_values_of_sulfur_in_coal_are_those_of_eight_laboratories(sulfur) -> None:
    """ISO 5725-2:1994, Tables 6 and 7 (from memory): h 1.75 and 2.06 for p = 8, k 1.67 and 1.96 for n = 3."""
    assert "Level 0.69: h 1.75 and 2.06, k 1.67 and 1.96." in table(sulfur, "consistency").note


@pytest.mark.parametrize("specimen", SPECIMENS)
def test_cooperative_trial_gives_the_components_of_r(coop, components, specimen) -> None:
    """R 4.2.2, aov on MASS::coop: laboratories, batches within laboratories, duplicates (untruncated variances)."""
    level, expected = SPECIMENS[specimen], components[specimen]
    variances = {name: float(x) for name, x in expected["anova_variances_nested"].items()}
    assert value(coop, "mean", level) == pytest.approx(float(expected["grand_mean"]), rel=1e-12)
    assert value(coop, "s_r", level) ** 2 == pytest.approx(variances["residual"], rel=1e-9)
    within = value(coop, "s_intermediate", level) ** 2 - value(coop, "s_r", level) ** 2
    assert within == pytest.approx(variances["batch_in_lab"], rel=1e-9)
    assert value(coop, "s_L", level) ** 2 == pytest.approx(max(0.0, variances["lab"]), rel=1e-9)
    total = sum(max(0.0, x) for x in variances.values())
    assert value(coop, "s_reproducibility", level) ** 2 == pytest.approx(total, rel=1e-9)


def test_a_negative_component_of_the_cooperative_trial_is_told(coop) -> None:
    """R: −0.00664037 between laboratories at S4."""
    assert value(coop, "s_L", "0.642") == 0
    assert "−0.00664" in coop.finding("s_L", "0.642").notes[0]
    assert any("s_L counts as 0" in remark.text for remark in coop.remarks if remark.level == "0.642")


def test_six_laboratories_are_told_to_be_few_once(coop) -> None:
    assert [r.kind for r in coop.remarks if "8 with valid results" in r.text] == ["warning"]


def test_probability_of_detection_gives_the_printed_figures() -> None:
    """AOAC Appendix J (2012), Table F1; s_L and s_R differ in the last place: the print rounds on its way."""
    found = published("pod")
    assert f"{value(found, 'lpod', '1'):.4f}" == "0.6333" and f"{value(found, 'pod_s_r', '1'):.4f}" == "0.4735"
    assert f"{value(found, 'pod_s_r', '1') ** 2:.4f}" == "0.2242"
    assert value(found, "pod_s_L", "1") == pytest.approx(0.1045, abs=1.5e-4)
    assert value(found, "pod_s_R", "1") == pytest.approx(0.4849, abs=1.5e-4)
    shown = found.finding("lpod", "1").interval("shown")
    assert (shown.low, shown.high) == pytest.approx((0.510197, 0.75647), abs=5e-7)
    (row,) = table(found, "by_level").rows
    assert row[1:4] == (10, 76, 120) and f"{row[5] ** 2:.5f}" == "0.02963"
