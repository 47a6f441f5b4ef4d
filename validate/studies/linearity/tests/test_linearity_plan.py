"""The bench plan: what is prepared, what is written down, what the design can decide."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from validate.studies.contract import PlanInput
from validate.studies.linearity.study import STUDY
from validate.studies.linearity.tests.linearity_bench import METHOD, own, settings
from validate.vocabulary.bench import Assumed, StudyPlan
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.verdict import JudgeBy

SIX = ("0", "1", "2", "5", "10", "20")


def criterion(finding: str, high: float, level: str | None = None, by: str = "interval") -> Criterion:
    low = -high if finding == "deviation" else None
    return Criterion(kind="criterion", study="linearity", finding=finding, level=level, low=low, high=high, unit="%",
                     wording="", judge_by=JudgeBy(by), source="own")  # fmt: skip


def planned(*criteria: Criterion, assumed: Assumed | None = None, **more: Any) -> StudyPlan:
    made = settings(more.pop("levels", SIX), **more)
    method = replace(METHOD, floor=0.0)
    return STUDY.plan(
        PlanInput(name="linearity", settings=made, method=method, criteria=criteria, assumed=assumed or Assumed())
    )


def test_every_level_and_replicate_of_every_day_is_a_position() -> None:
    plan = planned(design={"replicates": "3", "days": "2"})
    assert len(plan.positions) == 6 * 3 * 2
    assert {position.day for position in plan.positions} == {1, 2}
    assert plan.positions[0].label == "blank, without analyte"


@pytest.mark.parametrize(
    ("form", "role"), [("signal", "signal"), ("found against nominal", "found"), ("set points", "found")]
)
def test_entry_table_holds_every_required_column_of_its_form(form: str, role: str) -> None:
    made = settings(SIX, form=form)
    required = {column.role for column in STUDY.columns_of(made) if column.required}
    entries = {entry.role for entry in planned(form=form).entries}
    assert required <= entries and role in entries
    assert entries <= {column.role for column in STUDY.columns_of(made)}


def test_law_of_a_level_is_that_of_the_mean_on_pooled_degrees_of_freedom() -> None:
    """Six levels in triplicate: se = RSD/√3 on 12 df."""
    plan = planned(criterion("deviation", 10, "5"), assumed=Assumed(rsd_percent=6), design={"replicates": "3"})
    (foresight,) = plan.foresights
    law = foresight.at(3).sampling
    assert (law.se, law.df) == (pytest.approx(6 / 3**0.5), 12)


def test_law_of_a_level_over_days_has_days_less_one_degrees_of_freedom() -> None:
    """Four days, duplicates, γ = 1: se² = RSD²·(1 + 1/2)/4."""
    design = {"replicates": "2", "days": "4"}
    plan = planned(criterion("deviation", 10, "5"), assumed=Assumed(rsd_percent=6), design=design)
    outlook = plan.foresights[0].at(4)
    assert (outlook.sampling.se, outlook.sampling.df, outlook.groups) == (pytest.approx(6 * (1.5 / 4) ** 0.5), 3, 4)


def test_scatter_of_a_level_comes_from_the_declared_variance_function() -> None:
    """√(0.07² + (0.02·1)²)/1 = 7.28 % at level 1."""
    function = {"constant": "0.07", "relative_percent": "2"}
    plan = planned(criterion("largest_deviation", 10), weights="variance function", variance_function=function)
    assert "7.28 % RSD (the declared variance function)" in plan.told[0]


def test_chance_of_all_levels_is_their_product() -> None:
    """Five levels above 0, duplicates, RSD 3 %, bound 10 %: each level as the exact power of two one-sided tests."""
    from validate.stats.design import pass_probability

    one = pass_probability(0.0, kind="mean", low=-10, high=10, se=3 / 2**0.5, df=6, by="interval")
    plan = planned(criterion("largest_deviation", 10))
    assert f"with a chance of {100 * one**5:.0f} %" in plan.told[0]


def test_bound_that_no_number_of_readings_shows_is_told() -> None:
    plan = planned(criterion("largest_deviation", 0.1), assumed=Assumed(rsd_percent=10))
    assert "No number of readings up to 60" in plan.told[0]


def test_few_levels_and_single_readings_are_told_before_the_work() -> None:
    plan = planned(
        levels=("0", "1", "2", "5"), design={"replicates": "1"}, accept=own("largest_deviation", at_most="5")
    )
    assert any("gets no verdict" in text for text in plan.told)
    assert any("read once" in text for text in plan.told)


def test_standards_take_no_test_portion() -> None:
    assert not any(position.portion for position in planned().positions)
