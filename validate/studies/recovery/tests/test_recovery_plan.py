"""The bench plan of a recovery study: which portions, what is asked for, how its figures would scatter."""

from __future__ import annotations

from collections import Counter

import pytest

from validate.studies.contract import Method, PlanInput
from validate.studies.recovery.settings import RecoverySettings
from validate.studies.recovery.study import STUDY
from validate.vocabulary.bench import Assumed
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.verdict import JudgeBy

METHOD = Method(
    measurand="a", unit="µg/kg", mass_fraction_per_unit=1e-9, resolution=0.1, floor=0, limit=5, scope_from=1,
    scope_to=40, method_defined=False,
)  # fmt: skip
DESIGN = {"levels": ["1", "5"], "replicates": "2", "days": "3"}


def planned(design=DESIGN, criteria=(), assumed=None, **settings):
    given = {"kind": "recovery", "contamination": "spiked before extraction", "design": design} | settings
    job = PlanInput(
        name="r",
        settings=RecoverySettings.model_validate(given),
        method=METHOD,
        criteria=criteria,
        assumed=assumed or Assumed(),
    )
    return STUDY.plan(job)


def criterion(finding: str, high: float = 20) -> Criterion:
    return Criterion(
        kind="criterion", study="r", finding=finding, level="5", low=None, high=high, unit="%", wording="",
        judge_by=JudgeBy.ESTIMATE, source="own",
    )  # fmt: skip


def test_every_level_is_measured_in_every_replicate_on_every_day():
    positions = planned().positions
    assert Counter((p.day, p.level) for p in positions) == dict.fromkeys(
        ((day, level) for day in (1, 2, 3) for level in ("1", "5")), 2
    )
    assert {(p.cells["added"], p.cells["day"], p.cells["replicate"]) for p in positions} == {
        (p.level, str(p.day), str(p.replicate)) for p in positions
    }


def test_spikes_stand_for_the_level_and_go_where_the_protocol_says():
    assert {(p.level, p.spike.content, p.spike.into) for p in planned().positions} == {
        ("1", 1.0, "sample"),
        ("5", 5.0, "sample"),
    }
    extracts = planned(contamination="spiked extract", spike_with=["standard"]).positions
    assert {(p.spike.into, p.spike.materials) for p in extracts} == {("extract", ("standard",))}


@pytest.mark.parametrize("contamination", ["naturally contaminated", "certified", "left from a round"])
def test_samples_that_hold_their_analyte_are_not_spiked(contamination):
    positions = planned(contamination=contamination, reference={"5": "flour"}).positions
    assert {p.spike for p in positions} == {None}
    assert "flour (5 µg/kg)" in {p.label for p in positions}


def test_unspiked_portions_are_planned_where_the_native_content_comes_from_rows():
    native = [p for p in planned(native={"from": "rows"}).positions if p.cells["added"] == "0"]
    assert len(native) == 6 and {p.spike for p in native} == {None}


def test_native_column_is_asked_for_only_where_the_protocol_takes_it():
    assert "native" not in {entry.role for entry in planned().entries}
    assert "native" in {entry.role for entry in planned(native={"from": "column"}).entries}


def test_analysts_take_turns_from_day_to_day_or_within_the_session():
    over_days = planned({**DESIGN, "analysts": "2"}).positions
    assert {(p.day, p.analyst) for p in over_days} == {(1, 1), (2, 2), (3, 1)}
    one_session = planned({"levels": ["5"], "replicates": "4", "analysts": "2"}).positions
    assert Counter(p.analyst for p in one_session) == {1: 2, 2: 2}


def test_every_entry_is_a_column_of_the_study():
    assert {entry.role for entry in planned().entries} <= {column.role for column in STUDY.columns}


@pytest.mark.parametrize(
    ("design", "df"),
    [(DESIGN, 3), ({"levels": ["5"], "replicates": "6"}, 5), ({"levels": ["5"], "replicates": "1", "days": "6"}, 5)],
)
def test_repeatability_rests_on_the_results_within_days_or_on_all(design, df):
    (foresight,) = planned(design, (criterion("rsd_r"),)).foresights
    assert foresight.at(foresight.size).sampling.df == df


def test_supposed_scatter_is_the_protocols_or_half_of_the_bound_or_a_usual_one_and_says_which():
    for assumed, criteria, words in (
        (Assumed(rsd_percent=4), (criterion("rsd_r"),), "4 % (as the protocol assumes)"),
        (None, (criterion("rsd_r"),), "10 % (half of the bound"),
        (None, (), "10 % (assumed; write plan"),
    ):
        foresights = planned(criteria=(*criteria, criterion("mean_recovery", 110)), assumed=assumed).foresights
        assert words in foresights[-1].assumed


def test_uncertainty_of_the_added_amount_enters_the_mean_and_its_degrees_of_freedom():
    """RSD 10 %, 6 results: 4.08 %; with 3 % from the standard 5.07 % on 5 · (5.07/4.08)⁴ df."""
    design = {"levels": ["5"], "replicates": "6"}
    (foresight,) = planned(design, (criterion("mean_recovery", 110),), relative_u_of_added_percent="3").foresights
    law = foresight.at(6).sampling
    assert law.se == pytest.approx((100 / 6 + 9) ** 0.5)
    assert law.df == pytest.approx(5 * ((100 / 6 + 9) / (100 / 6)) ** 2)


def test_one_session_gives_no_outlook_on_intermediate_precision():
    made = planned({"levels": ["5"], "replicates": "6"}, (criterion("rsd_intermediate"),))
    assert made.foresights == ()
    assert any("intermediate precision cannot be shown" in text for text in made.told)
