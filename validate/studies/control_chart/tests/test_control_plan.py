"""The bench plan of a control chart."""

from __future__ import annotations

import pytest

from validate.studies.contract import PlanInput
from validate.studies.control_chart.study import STUDY
from validate.studies.control_chart.tests.control_bench import METHOD, settings
from validate.vocabulary.bench import MOST_POSITIONS, Assumed
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.verdict import JudgeBy


def planned(**keys):
    criterion = Criterion(
        kind="criterion", study="c", finding="rsd_intermediate", level=None, low=None, high=15, unit="%", wording="",
        judge_by=JudgeBy.INTERVAL, source="own",
    )  # fmt: skip
    job = PlanInput(name="c", settings=settings(**keys), method=METHOD, criteria=(criterion,), assumed=Assumed())
    return STUDY.plan(job)


def test_every_run_has_its_readings():
    made = planned(design={"runs": "30", "replicates": "2"})
    assert len(made.positions) == 60 and {position.day for position in made.positions} == set(range(1, 31))
    assert made.day_word == "run"


def test_more_runs_make_the_standard_deviation_surer():
    foresight = planned().foresights[0]
    assert (foresight.at(40).sampling.df, foresight.at(10).sampling.df) == (39, 9)
    with pytest.raises(ValueError, match="one run"):
        foresight.at(1)


def test_a_million_runs_are_refused_not_counted_out():
    assert len(planned(design={"runs": "999999"}).positions) == MOST_POSITIONS + 1


def test_a_short_base_period_is_told():
    assert any("do not make a base period" in text for text in planned(design={"runs": "12"}).told)
