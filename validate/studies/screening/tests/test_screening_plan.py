"""The bench plan of a screening study."""

from __future__ import annotations

from collections import Counter

from validate.studies.contract import PlanInput
from validate.studies.screening.study import STUDY
from validate.studies.screening.tests.screening_bench import METHOD, settings
from validate.vocabulary.bench import MOST_POSITIONS, Assumed


def planned(**keys):
    return STUDY.plan(PlanInput(name="s", settings=settings(**keys), method=METHOD, criteria=(), assumed=Assumed()))


FULL = {"negatives": "20", "positives": "20", "days": "5", "levels": ["2"], "replicates": "10", "compared": "4"}


def test_every_kind_of_sample_is_spread_evenly_over_the_days():
    made = planned(design=FULL, reference="HPLC")
    counts = Counter((position.cells["level"], position.day) for position in made.positions)
    assert {counts["0", day] for day in range(1, 6)} == {4} == {counts["5", day] for day in range(1, 6)}
    assert len(made.positions) == 54
    assert next(p.spike.content for p in made.positions if p.spike) == 5


def test_a_plan_says_what_its_cut_off_will_miss_and_what_its_counts_can_show():
    told = " ".join(planned(design={"negatives": "20", "positives": "20"}).told)
    assert "misses 5.4 % of later ones" in told and "14 %" in told and "Fewer than 5 days" in told


def test_a_test_that_decides_asks_for_yes_or_no():
    made = planned(reads="decision", response=None)
    assert next(entry for entry in made.entries if entry.role == "suspect").allowed == ("yes", "no")


def test_a_million_samples_are_refused_not_counted_out():
    assert len(planned(design={"negatives": "999999", "positives": "20"}).positions) == MOST_POSITIONS + 1
