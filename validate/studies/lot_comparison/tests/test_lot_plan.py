"""The bench plan of a comparison of lots."""

from __future__ import annotations

import math

import pytest

from validate.studies.contract import PlanInput
from validate.studies.lot_comparison.study import STUDY
from validate.studies.lot_comparison.tests.lots_bench import METHOD, SPREAD, equivalence, settings, shift_detection
from validate.vocabulary.bench import Assumed
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.verdict import JudgeBy


def planned(assumed=None, **keys):
    made = settings(**keys)
    criterion = Criterion(
        kind="criterion", study="new-lot", finding=made.primary, level=next(iter(made.design.levels), None),
        low=80.0, high=120.0, unit="%", wording="", judge_by=JudgeBy.INTERVAL, source="own",
    )  # fmt: skip
    job = PlanInput(name="new-lot", settings=made, method=METHOD, criteria=(criterion,), assumed=assumed or Assumed())
    return STUDY.plan(job)


def test_every_sample_is_measured_with_both_lots():
    plan = planned(**equivalence(design={"levels": ["40", "200"], "samples": "3", "replicates": "2"}))
    cells = [tuple(p.cells[k] for k in ("sample", "level", "lot", "replicate")) for p in plan.positions]
    assert len(cells) == len(set(cells)) == 2 * 3 * 2 * 2
    assert {lot for _, _, lot, _ in cells} == {"A", "B"}
    assert {level for sample, level, _, _ in cells if sample == "S-04"} == {"200"}


def test_the_law_of_the_mean_of_pairs_is_that_of_root_two_times_the_repeatability():
    foresight = planned(**equivalence(design={"samples": "8"}, spread=SPREAD)).foresights[0]
    law = foresight.at(8).sampling
    assert (law.se, law.df) == (pytest.approx(100 * math.sqrt(2) * 0.08 / math.sqrt(8)), 7)
    law = planned(**shift_detection(6)).foresights[0].at(6).sampling
    assert (law.se, law.df) == (pytest.approx(100 * math.sqrt(2) * 0.08 / math.sqrt(6)), 30)


def test_the_spread_that_is_supposed_is_named():
    assert "assumed" in planned(**equivalence()).foresights[0].assumed
    assert "7 %" in planned(Assumed(rsd_percent=7.0), **equivalence()).foresights[0].assumed
