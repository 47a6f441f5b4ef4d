"""The bench plan: blanks and low spikes spread over the days, and what their counts can decide."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest

from validate.studies.contract import PlanInput
from validate.studies.detection.study import STUDY
from validate.studies.detection.tests.low_level_bench import METHOD, settings
from validate.vocabulary.bench import Assumed, StudyPlan
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.verdict import JudgeBy


def claim(judge_by: JudgeBy = JudgeBy.INTERVAL, high: float = 1.0) -> Criterion:
    return Criterion(
        kind="claim",
        study="detection",
        finding="lod",
        level=None,
        low=None,
        high=high,
        unit="µg/kg",
        wording="constructed",
        judge_by=judge_by,
        source="constructed",
    )


def plan(*criteria: Criterion, design: dict[str, Any] | None = None, **setting: Any) -> StudyPlan:
    planned = {"blanks": "24", "levels": ["0.5", "1"], "replicates": "20", "days": "4"} | (design or {})
    made = settings(design=planned, **setting)
    return STUDY.plan(PlanInput(name="detection", settings=made, method=METHOD, criteria=criteria, assumed=Assumed()))


def test_every_blank_and_sample_has_one_position_and_days_share_them_evenly() -> None:
    found = plan()
    assert Counter(position.cells["level"] for position in found.positions) == {"0": 24, "0.5": 20, "1": 20}
    assert Counter(position.day for position in found.positions) == {1: 16, 2: 16, 3: 16, 4: 16}


def test_blanks_are_not_spiked_and_samples_are() -> None:
    found = plan()
    assert all((position.spike is None) == (position.cells["level"] == "0") for position in found.positions)
    assert all(position.portion for position in found.positions)


def test_standards_take_no_portion_and_no_spike() -> None:
    found = plan(rows="standards", response="signal")
    assert not any(position.portion or position.spike for position in found.positions)
    assert "signal" in [entry.role for entry in found.entries]


@pytest.mark.parametrize(
    ("n", "words"), [("59", "59 of 59 detected samples prove 95 %"), ("20", "20 of 20 prove no more")]
)
def test_what_counting_can_prove_is_told(n: str, words: str) -> None:
    assert any(words in text for text in plan(design={"replicates": n}).told)


def test_chance_of_the_point_rule_is_told() -> None:
    told = " ".join(plan().told)
    assert "19 of 20 samples must be detected" in told
    assert "74 % where 95 % are detected, 39 % where 90 % are detected" in told


def test_a_claim_that_no_level_can_confirm_is_told_before_the_work() -> None:
    assert any("cannot be confirmed" in text for text in plan(claim(high=0.3)).told)
    assert not any("cannot be confirmed" in text for text in plan(claim()).told)


def test_too_few_blanks_and_days_are_told_before_the_work() -> None:
    told = " ".join(plan(design={"blanks": "10", "days": "2"}).told)
    assert "10 blanks: a claim needs 20" in told and "Fewer than 3 days" in told


def test_limit_from_blanks_scatters_as_their_standard_deviation() -> None:
    (foresight,) = plan(claim()).foresights
    assert (foresight.finding, foresight.size, foresight.sized) == ("lod", 24, "blanks")
    assert foresight.at(10).sampling.df == 9
    assert plan(claim(JudgeBy.ESTIMATE)).foresights == ()
