"""Published figures, from the protocols that ship with the project to the findings."""

from __future__ import annotations

import math

import pandas as pd
import pytest

from validate.pipeline import evaluate as evaluate_prepared
from validate.pipeline import prepare
from validate.studies.precision.tests.precision_bench import DAYS, ROOT, crossed, evaluate, grouped, nested, value
from validate.vocabulary.evaluation import ResultTable, StudyResult

PROTOCOLS = ROOT / "protocols"


def result_of(protocol: str) -> StudyResult:
    studies = evaluate_prepared(prepare(PROTOCOLS / protocol)).studies
    (study,) = (study for study in studies if study.kind == "precision")
    return study.as_reported


def components_of(result: StudyResult, level: str = "all") -> dict[str, float]:
    """Component → variance as estimated."""
    (table,) = (table for table in result.tables if table.name == "components")
    assert isinstance(table, ResultTable)
    return {row[1]: row[2] for row in table.rows if row[0] == level}


def test_dyestuff_gives_the_components_of_davies_and_goldsmith() -> None:
    """R 4.2.2, aov and lme4 1.1-31 on lme4::Dyestuff: 1764.05 between batches, 2451.25 within, mean 1527.5."""
    result = result_of("dyestuff")
    assert components_of(result) == pytest.approx({"batch": 1764.05, "repeatability": 2451.25}, rel=1e-12)
    assert value(result, "mean") == pytest.approx(1527.5, rel=1e-12)
    # lme4's optimiser reaches 7 to 8 digits; the exact value is √(11271.5/30).
    assert result.finding("mean").sampling.se == pytest.approx(19.3834119436727, rel=1e-7)
    assert result.finding("mean").sampling.se == pytest.approx(math.sqrt(11271.5 / 30), rel=1e-12)
    assert value(result, "s_r") == pytest.approx(49.5101, abs=5e-5)
    assert value(result, "s_total") == pytest.approx(math.sqrt(1764.05 + 2451.25), rel=1e-12)


def test_pastes_give_the_components_of_davies_and_goldsmith() -> None:
    """R 4.2.2, aov on lme4::Pastes: variances 1.65730864 (batch), 8.43366667 (cask in batch), 0.678; mean 60.0533."""
    result = result_of("pastes")
    expected = {"batch": 1.65730864197531, "cask within batch": 8.43366666666667, "repeatability": 0.678}
    assert components_of(result) == pytest.approx(expected, rel=1e-12)
    assert value(result, "mean") == pytest.approx(60.0533333333334, rel=1e-12)
    assert result.finding("mean").sampling.se == pytest.approx(0.676870096537743, rel=1e-7)
    assert value(result, "s_total") == pytest.approx(math.sqrt(sum(expected.values())), rel=1e-12)


@pytest.mark.parametrize(
    ("level", "mean", "s_r", "s_reproducibility"),
    [
        ("0.69", "0.690", "0.015", "0.026"),
        ("1.252", "1.252", "0.029", "0.061"),
        ("1.667", "1.667", "0.017", "0.035"),
        ("3.25", "3.250", "0.026", "0.058"),
    ],
)
def test_sulfur_in_coal_gives_the_printed_figures_of_iso_5725_2(
    level: str, mean: str, s_r: str, s_reproducibility: str
) -> None:
    """ISO 5725-2:1994, Annex B.1 (from memory): general mean, s_r and s_R as printed, at every level."""
    result = result_of("sulfur-in-coal")
    printed = {"mean": mean, "s_r": s_r, "s_reproducibility": s_reproducibility}
    assert {name: f"{value(result, name, level):.3f}" for name in printed} == printed


@pytest.mark.parametrize(
    ("specimen", "laboratory", "batch", "residual"),
    [
        ("S1", 0.0601682407407407, 0.00536805555555555, 0.00629722222222223),
        ("S3", 0.101377314814815, 0.0135652777777778, 0.00967499999999999),
    ],
)
def test_cooperative_trial_gives_nested_components_of_r(
    specimen: str, laboratory: float, batch: float, residual: float
) -> None:
    """R 4.2.2, aov on MASS::coop (Analytical Methods Committee 1987): runs within laboratories give both totals."""
    data = pd.read_csv(ROOT / "tests" / "data" / "general" / "coop.csv").query("Spc == @specimen")
    columns = {"result": data.Conc.tolist(), "laboratory": data.Lab.tolist(), "run": data.Bat.tolist()}
    result = evaluate(columns, nested("laboratory", "run"))
    assert tuple(components_of(result).values()) == pytest.approx((laboratory, batch, residual), rel=1e-10)
    assert value(result, "s_reproducibility") == pytest.approx(math.sqrt(laboratory + batch + residual), rel=1e-10)
    assert value(result, "s_intermediate") == pytest.approx(math.sqrt(batch + residual), rel=1e-10)


def test_negative_estimate_of_dyestuff2_is_told_and_counted_as_zero() -> None:
    """R 4.2.2, aov on lme4::Dyestuff2 (Box and Tiao 1973): −1.321912768 between, 14.9458896 within."""
    data = pd.read_csv(ROOT / "tests" / "data" / "general" / "dyestuff2.csv")
    design = {"kind": "one-way", "outer": {"column": "Batch", "called": "batch"}}
    result = evaluate({"result": data.Yield.tolist(), "Batch": data.Batch.tolist()}, design)
    assert components_of(result)["batch"] == pytest.approx(-1.321912768, rel=1e-9)
    assert value(result, "s_between") == 0
    assert value(result, "s_r") ** 2 == pytest.approx(14.9458896, rel=1e-12)
    assert value(result, "s_total") == value(result, "s_r")
    assert any("negative" in remark.text for remark in result.remarks)


def test_worked_example_of_five_days_gives_its_figures_and_limits() -> None:
    """By hand: MS_b 0.3865, MS_w 0.0510; MLS limits at 95 % and 90 %, Satterthwaite's lower one for `not met`."""
    result = evaluate(grouped(DAYS))
    assert value(result, "s_r") == pytest.approx(0.22583, abs=5e-6)
    assert value(result, "s_between") == pytest.approx(0.40957, abs=5e-6)
    finding = result.finding("s_intermediate")
    assert finding.value == pytest.approx(0.46771, abs=5e-6)
    limits = {use: (finding.interval(use).low, finding.interval(use).high) for use in ("shown", "met")}
    assert limits["shown"] == pytest.approx((0.30642, 1.27556), abs=5e-6)
    assert limits["met"] == pytest.approx((0.32573, 1.05699), abs=5e-6)


def test_crossed_balanced_components_equal_the_analysis_of_variance() -> None:
    """Constructed, all estimates positive: REML and the mean squares agree in a balanced crossing."""
    day_effects, analyst_effects = [0.0, 2.1, -1.4, 0.9, -2.0, 1.2], [0.8, -0.6, 1.9]
    noise = [0.10, -0.12]
    rows = [
        (20 + d + a + 0.5 * ((i * j) % 3) + noise[k] * (1 + (i + j) % 2), str(i), "ABC"[j])
        for i, d in enumerate(day_effects)
        for j, a in enumerate(analyst_effects)
        for k in range(2)
    ]
    results, days, analysts = zip(*rows, strict=True)
    found = evaluate({"result": results, "day": days, "analyst": analysts}, crossed("day", "analyst"))
    raw = components_of(found)
    assert list(raw) == ["day", "analyst", "day × analyst", "repeatability"]
    assert min(raw.values()) > 0
    assert value(found, "s_intermediate") == pytest.approx(math.sqrt(sum(raw.values())), rel=1e-7)
    assert value(found, "s_between") == pytest.approx(math.sqrt(raw["day"]), rel=1e-6)
