"""The chance of each verdict and the size that suffices, against a power table, by hand and by simulation."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import chi2

from validate.planning.chances import decisions
from validate.studies.contract import Study
from validate.studies.discovery import kinds
from validate.vocabulary.bench import Assumed, Foresight, Outlook
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.finding import Sampling
from validate.vocabulary.verdict import JudgeBy

POWER_TABLE = Path(__file__).parents[1] / "data" / "general" / "sample_sizes_one_sided_t.csv"
ROWS = [row for row in csv.DictReader(POWER_TABLE.read_text("utf-8").splitlines()) if row["alpha"] == "0.05"]


def criterion(finding: str = "rsd_r", low: float | None = None, high: float | None = 20, **more) -> Criterion:
    given = {"judge_by": JudgeBy.INTERVAL, "level": "5", "kind": "criterion", "study": "s", "unit": "%"} | more
    return Criterion(finding=finding, low=low, high=high, wording="a bound", source="own", **given)


def kind() -> Study:
    return kinds()["recovery"]


def decide(criteria, foresights, *, power=0.8, comparisons=1):
    return decisions(criteria, foresights, kind(), Assumed(power=power), comparisons)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['ratio']}-{row['power']}")
def test_results_that_suffice_for_a_mean_are_those_of_the_one_sided_t_test(row):
    """R's power.t.test: a mean whose upper limit is `ratio` standard deviations away, shown by its interval.

    Below 5 results this kind of study gives no verdict, so that at least 5 are asked for.
    """
    bound, ratio = 100.0, float(row["ratio"])
    s = 0.5 * bound / ratio  # half the bound is the aim

    def at(size: int) -> Outlook:
        return Outlook(sampling=Sampling(kind="mean", se=s / math.sqrt(size), df=size - 1), n=size)

    foresight = Foresight(finding="bias_percent", level="5", size=7, sized="results", at=at)
    (made,) = decide([criterion("bias_percent", high=bound)], [foresight], power=float(row["power"]))
    assert made.sufficient == max(5, int(row["n"]))


def test_six_results_against_a_relative_limit_by_estimate_and_by_interval():
    """By the estimate 89, 58, 33 % at 0.75, 1, 1.25 of the limit; by the interval 53 % at half of it and 5 % at it."""
    foresight = Foresight(
        finding="rsd_r", level="5", size=6, sized="results",
        at=lambda n: Outlook(sampling=Sampling(kind="scaled_chi", df=n - 1), n=n),
    )  # fmt: skip
    (by_estimate,) = decide([criterion(judge_by=JudgeBy.ESTIMATE)], [foresight])
    (by_interval,) = decide([criterion()], [foresight])
    assert [round(100 * each.chance) for each in by_estimate.chances[1:]] == [89, 58, 33]
    assert [round(100 * by_interval.chances[i].chance) for i in (0, 2)] == [53, 5]
    assert by_interval.sufficient == 10


def test_each_of_several_comparisons_is_planned_with_its_share_of_the_error():
    foresight = Foresight(
        finding="rsd_r", level="5", size=6, sized="results",
        at=lambda n: Outlook(sampling=Sampling(kind="scaled_chi", df=n - 1), n=n),
    )  # fmt: skip
    (alone,) = decide([criterion()], [foresight])
    (of_four,) = decide([criterion()], [foresight], comparisons=4)
    assert of_four.power == pytest.approx(0.95)
    assert of_four.sufficient > alone.sufficient


def test_a_design_below_the_fewest_results_of_a_verdict_says_that_there_will_be_none():
    foresight = Foresight(
        finding="rsd_r", level="5", size=3, sized="results",
        at=lambda n: Outlook(sampling=Sampling(kind="scaled_chi", df=n - 1), n=n),
    )  # fmt: skip
    (made,) = decide([criterion(judge_by=JudgeBy.ESTIMATE)], [foresight])
    assert made.never == "5 results are needed, the design has 3"
    assert made.chances == ()
    assert made.sufficient >= 5


def test_equal_criteria_of_several_levels_stand_together():
    def law(n: int) -> Outlook:
        return Outlook(sampling=Sampling(kind="scaled_chi", df=n - 1), n=n)

    levels = ("1", "5", "40")
    foresights = [Foresight(finding="rsd_r", level=level, size=6, sized="results", at=law) for level in levels]
    criteria = [criterion(level=level) for level in levels[:2]] + [criterion(level="40", high=15)]
    assert [made.levels for made in decide(criteria, foresights)] == [("1", "5"), ("40",)]


def test_plan_of_a_recovery_study_counts_days_analysts_and_degrees_of_freedom(planned):
    """6 days × 2: repeatability on 6 df; between days 5 and 6 df with γ = 1."""
    (study,) = planned().plan.studies
    laws = {each.finding: each.at(6).sampling for each in study.plan.foresights if each.level == "5"}
    assert laws["rsd_r"] == Sampling(kind="scaled_chi", df=6)
    assert laws["rsd_intermediate"].shares == (1.5, 0.5)
    assert laws["rsd_intermediate"].dfs == (5, 6)
    assert laws["mean_recovery"].se == pytest.approx(10 * math.sqrt(1.5 / 6))
    assert len(study.placed) == 36
    assert {each.position.analyst for each in study.placed if each.position.day % 2} == {1}


@pytest.mark.slow
@pytest.mark.parametrize("multiple", [0.5, 0.75])
def test_foreseen_chance_of_intermediate_precision_is_the_share_of_simulated_studies_that_pass(planned, multiple):
    """40,000 studies of 6 days × 2 at γ = 1, each judged by the one-sided upper MLS limit; within 3 standard errors."""
    decision = next(d for d in planned().plan.studies[0].decisions if d.criterion.finding == "rsd_intermediate")
    expected = next(each.chance for each in decision.chances if each.value == multiple * 25)
    rng, sets = np.random.default_rng(20310303), 40_000
    within = multiple * 25 / math.sqrt(2)
    results = rng.normal(0, within, (sets, 6, 1)) + rng.normal(0, within, (sets, 6, 2))
    a = results.mean(axis=2).var(axis=1, ddof=1)
    b = results.var(axis=2, ddof=1).mean(axis=1) / 2
    h_a, h_b = (df / chi2.ppf(0.05, df) - 1 for df in (5, 6))
    upper = np.sqrt(a + b + np.sqrt((h_a * a) ** 2 + (h_b * b) ** 2))
    share = float(np.mean(upper <= 25))
    assert share == pytest.approx(expected, abs=3 * math.sqrt(expected * (1 - expected) / sets))


@pytest.mark.slow
def test_foreseen_chance_of_a_mean_recovery_is_the_share_of_simulated_studies_that_pass(planned):
    """40,000 studies of 6 days × 2, RSD 10 % within and γ = 1, true recovery a quarter inside the upper limit."""
    decision = next(d for d in planned().plan.studies[0].decisions if d.criterion.finding == "mean_recovery")
    inside = decision.chances[1]
    rng, sets = np.random.default_rng(20310303), 40_000
    results = inside.value + rng.normal(0, 10, (sets, 6, 1)) + rng.normal(0, 10, (sets, 6, 2))
    means = results.mean(axis=(1, 2))
    share = float(np.mean((means >= 70) & (means <= 120)))
    assert share == pytest.approx(inside.chance, abs=3 * math.sqrt(inside.chance * (1 - inside.chance) / sets))
