"""The bench plan of a method comparison."""

from __future__ import annotations

from dataclasses import replace

import pytest

from validate.studies.contract import PlanInput
from validate.studies.method_comparison.study import STUDY
from validate.studies.method_comparison.tests.comparison_bench import METHOD, settings
from validate.vocabulary.bench import MOST_POSITIONS, Assumed
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.verdict import JudgeBy


def planned(**keys):
    criterion = Criterion(
        kind="criterion", study="c", finding="method_bias_percent", level="50", low=-15, high=15, unit="%",
        wording="", judge_by=JudgeBy.INTERVAL, source="own",
    )  # fmt: skip
    method = replace(METHOD, limit=50.0, scope_from=20.0, scope_to=160.0)
    job = PlanInput(name="c", settings=settings(**keys), method=method, criteria=(criterion,), assumed=Assumed())
    return STUDY.plan(job)


def test_every_sample_and_reading_has_its_place_spread_over_the_days():
    made = planned(design={"samples": "40", "replicates": "2", "days": "5"})
    assert len(made.positions) == 80 and {position.day for position in made.positions} == {1, 2, 3, 4, 5}
    assert len({(p.cells["sample"], p.cells["replicate"]) for p in made.positions}) == 80


def test_more_samples_make_the_bias_surer_and_the_level_far_from_the_middle_less_sure():
    foresight = planned().foresights[0]
    assert foresight.at(40).sampling.se < foresight.at(20).sampling.se
    assert foresight.at(40).sampling.df == 38
    with pytest.raises(ValueError, match="10 samples"):
        foresight.at(9)


def test_a_million_samples_are_refused_not_counted_out():
    assert len(planned(design={"samples": "999999"}).positions) == MOST_POSITIONS + 1


def test_a_design_below_the_fewest_samples_is_told():
    assert any("no verdict" in text for text in planned(design={"samples": "12"}).told)
