"""Fewest results and days for a verdict, where the source of a criterion gives no number."""

from __future__ import annotations

import pytest

from validate.criteria.judging import judge
from validate.studies.recovery.study import STUDY
from validate.studies.recovery.tests.bench import evaluate
from validate.vocabulary.evaluation import Criterion

FOUND = [4.6, 4.9, 4.4, 4.8, 4.7, 4.5, 4.9, 4.6, 4.4, 4.7]


def verdict(name: str, count: int, low: float | None, high: float) -> str:
    """The verdict by the estimate on two results a day."""
    kind = STUDY.finding(name)
    assert kind is not None
    criterion = Criterion(
        kind="criterion", study="recovery", finding=name, level="5", low=low, high=high, unit="%", wording="",
        judge_by="estimate", source="a guide", minimum_n=kind.minimum_n, minimum_groups=kind.minimum_groups,
    )  # fmt: skip
    days = [str(i // 2) for i in range(count)]
    return judge(criterion, {"recovery": evaluate(FOUND[:count], day=days)}, {"recovery": STUDY}).verdict


@pytest.mark.parametrize(("name", "low", "high"), [("mean_recovery", 70, 120), ("rsd_r", None, 20)])
def test_five_results_at_a_level_are_the_fewest_for_a_verdict(name: str, low: float | None, high: float) -> None:
    assert [verdict(name, count, low, high) for count in (4, 5)] == ["not shown", "met"]


def test_five_days_are_the_fewest_for_intermediate_precision() -> None:
    assert [verdict("rsd_intermediate", count, None, 20) for count in (8, 10)] == ["not shown", "met"]
