"""The bench plan of a precision study: groups, numbering, and how its figures would scatter."""

from __future__ import annotations

from collections import Counter

import pytest

from validate.studies.contract import Method, PlanInput
from validate.studies.precision.settings import PrecisionSettings
from validate.studies.precision.study import STUDY, columns_of
from validate.vocabulary.bench import Assumed
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.verdict import JudgeBy

METHOD = Method(
    measurand="a", unit="µg/kg", mass_fraction_per_unit=1e-9, resolution=0.1, floor=0, limit=5, scope_from=1,
    scope_to=40, method_defined=False,
)  # fmt: skip
DAY, RUN, ANALYST = ({"column": name, "called": name} for name in ("day", "run", "analyst"))
BATCH, BOTTLE = ({"column": name, "called": name} for name in ("batch", "bottle"))


def settings(**design):
    return PrecisionSettings.model_validate({"kind": "precision", "design": design})


def planned(finding="", gamma=1.0, **design):
    criteria = (
        Criterion(
            kind="criterion", study="p", finding=finding, level=None, low=None, high=20, unit="%", wording="",
            judge_by=JudgeBy.ESTIMATE, source="own",
        ),
    )  # fmt: skip
    job = PlanInput(
        name="p",
        settings=settings(**design),
        method=METHOD,
        criteria=criteria if finding else (),
        assumed=Assumed(variance_ratio=gamma),
    )
    return STUDY.plan(job)


def test_days_are_blocks_with_their_replicates():
    positions = planned(kind="one-way", outer=DAY, groups="6", replicates="2").positions
    assert Counter(p.day for p in positions) == dict.fromkeys(range(1, 7), 2)
    assert {p.cells["day"] for p in positions} == {str(day) for day in range(1, 7)}


def test_every_declared_level_has_the_whole_design():
    positions = planned(kind="one-way", outer=DAY, groups="3", replicates="2", levels=["1", "5"]).positions
    assert Counter(p.cells["level"] for p in positions) == {"1": 6, "5": 6}


def test_nested_groups_are_numbered_through_and_crossed_ones_anew():
    nested = planned(kind="nested", outer=BATCH, inner=[BOTTLE], groups="3", inner_groups="2", replicates="2").positions
    assert Counter(p.cells["bottle"] for p in nested) == dict.fromkeys("123456", 2)
    crossed = planned(kind="crossed", outer=DAY, inner=[ANALYST], groups="3", inner_groups="2", replicates="2")
    assert Counter((p.day, p.analyst) for p in crossed.positions) == dict.fromkeys(
        ((day, who) for day in (1, 2, 3) for who in (1, 2)), 2
    )


def test_numbers_that_the_protocol_leaves_out_are_taken_and_told():
    made = planned(kind="nested", outer=DAY, inner=[RUN])
    assert len(made.positions) == 5 * 2 * 2
    assert sum("does not say how" in text for text in made.told) == 3


def test_code_of_the_portion_has_a_column_unless_a_factor_has_its_name():
    sample = {"column": "sample", "called": "sample"}
    assert planned(kind="one-way", outer=DAY).code_role == "sample"
    assert planned(kind="one-way", outer=sample).code_role == ""
    assert [c.role for c in columns_of(settings(kind="one-way", outer=sample))].count("sample") == 1


def test_every_entry_is_a_column_of_the_study():
    design = {"kind": "one-way", "outer": DAY, "recorded": [ANALYST], "levels": ["5"]}
    roles = {column.role for column in columns_of(settings(**design))}
    assert {entry.role for entry in planned(**design).entries} == roles


def test_repeatability_is_pooled_within_the_innermost_groups():
    made = planned("rsd_r", kind="nested", outer=DAY, inner=[RUN], groups="4", inner_groups="2", replicates="3")
    assert made.foresights[0].at(4).sampling.df == 16


@pytest.mark.parametrize("gamma", [0.0, 1.0, 4.0])
def test_one_factor_gives_two_terms_that_add_up_to_the_total_variance(gamma):
    """σ_r² = 1, σ_b² = γ: MS_b/n has mean γ + 1/n and (1 − 1/n)·MS_w has mean 1 − 1/n."""
    made = planned("s_intermediate", gamma, kind="one-way", outer=DAY, groups="6", replicates="3")
    law = made.foresights[0].at(6).sampling
    assert law.shares == pytest.approx((gamma + 1 / 3, 2 / 3))
    assert sum(law.shares) == pytest.approx(1 + gamma)
    assert (law.dfs, law.floors) == ((5, 12), (pytest.approx(1.5),))


def test_one_factor_inside_another_gives_three_terms_that_add_up_to_the_total_variance():
    design = {"kind": "nested", "outer": BATCH, "inner": [BOTTLE], "groups": "10", "inner_groups": "3"}
    law = planned("s_total", 2.0, replicates="2", **design).foresights[0].at(10).sampling
    assert sum(law.shares) == pytest.approx(1 + 2 + 2)
    assert law.dfs == (9, 20, 30)


def test_sums_of_crossed_components_are_not_foreseen():
    assert planned("s_intermediate", kind="crossed", outer=DAY, inner=[ANALYST]).foresights == ()
