"""Minimum designs, gaps by purpose, and the map of clauses."""

from __future__ import annotations

from types import MappingProxyType, SimpleNamespace

import pytest

from validate.criteria.coverage import characteristics, clauses, covered_characteristics, gaps
from validate.criteria.designs import minimum_designs
from validate.studies.discovery import kinds
from validate.vocabulary.evaluation import StudyResult, Varied
from validate.vocabulary.finding import Finding

LIMIT = "  limit: {value: 10, source: own, reason: contract}"
ASKED = ["18 results on 3 occasions", "6 results at each level"]


@pytest.fixture
def held(ask, finding):
    """The minimum design of 2021/808 held against a trial with n results at each level."""

    def hold(*, n: int | None, levels: tuple[str, ...] = ("5", "10", "15"), varied=(), method: str = LIMIT):
        asked = ask("{}", levels=f"[{', '.join(levels)}]", more="    minimum_design: [eu-2021-808]\n", method=method)
        found = () if n is None else tuple(finding(8, level=level, n=n) for level in levels)
        return minimum_designs(asked.loaded, asked.studies, {"trial": StudyResult(findings=found, varied=varied)})

    return hold


def days(count: int) -> tuple[Varied, ...]:
    return (Varied(factor="days", state="varied" if count > 1 else "constant", count=count),)


def test_a_design_that_is_large_enough_falls_short_nowhere(held):
    lines = held(n=6, varied=days(3))
    assert [line.short for line in lines] == [False, False, False]
    assert [line.asked for line in lines[:2]] == ASKED
    assert [line.present for line in lines[:2]] == ["18 results on 3 occasions", "6 results at each of 3 levels"]
    assert "includes 0.5, 1 and 1.5 × the reference point for action" in lines[2].present


def test_a_guide_asks_18_on_3_occasions_and_the_design_has_6_on_1(held):
    lines = held(n=6, levels=("10",), varied=days(1))
    assert (lines[0].asked, lines[0].present, lines[0].short) == (ASKED[0], "6 results on 1 occasion", True)
    assert lines[2].short


def test_one_result_too_few_at_one_level_is_short(ask, finding):
    asked = ask("{}", levels="[5, 10, 15]", more="    minimum_design: [eu-2021-808]\n", method=LIMIT)
    found = tuple(finding(8, level=level, n=n) for level, n in (("5", 8), ("10", 5), ("15", 8)))
    results = {"trial": StudyResult(findings=found, varied=days(3))}
    lines = minimum_designs(asked.loaded, asked.studies, results)
    assert (lines[0].short, lines[1].short) == (False, True)
    assert lines[1].present == "5 to 8 results, fewest at level 10"


def test_a_declared_level_without_results_counts_as_none(ask, finding):
    asked = ask("{}", levels="[5, 10, 15]", more="    minimum_design: [eu-2021-808]\n", method=LIMIT)
    results = {"trial": StudyResult(findings=(finding(8, level="5", n=18),), varied=days(3))}
    lines = minimum_designs(asked.loaded, asked.studies, results)
    assert lines[1].present == "0 to 18 results, fewest at level 10"


def test_occasions_that_are_not_recorded_are_short(held):
    line = held(n=6, varied=(Varied(factor="days", state="not recorded"),))[0]
    assert (line.present, line.short) == ("18 results; occasions not recorded", True)


def test_without_a_limit_levels_cannot_be_compared(held):
    line = held(n=6, varied=days(3), method="")[2]
    assert line.short and "no limit" in line.present


def test_without_results_the_plan_is_held_against_the_guide(held):
    lines = held(n=None)
    assert all(line.present.endswith("(as planned)") for line in lines)


def test_a_set_in_use_brings_its_minimum_design(ask):
    asked = ask("{rsd_r: {}}", use="eu-2021-808")
    assert {line.study for line in minimum_designs(asked.loaded, asked.studies, {})} == {"trial"}
    assert minimum_designs(ask("{}", use="eu-2021-808").loaded, asked.studies, {}) == ()


# gaps


def protocol(purpose: str = "validation") -> SimpleNamespace:
    return SimpleNamespace(purpose=purpose, intended_use="quantitative", readiness=None)


def test_what_the_purpose_expects_and_no_study_covers_is_a_gap(ask):
    asked = ask("{}")
    missing = [gap.characteristic for gap in gaps(asked.loaded.protocol, asked.studies)]
    assert missing == ["linearity", "limit_of_detection", "measurement_uncertainty", "selectivity", "robustness",
                       "matrix_effect", "stability"]  # fmt: skip


def test_a_lot_needs_no_linearity(ask):
    asked = ask("{}", purpose="lot")
    assert [gap.characteristic for gap in gaps(asked.loaded.protocol, asked.studies)] == ["lot_equivalence"]


def test_a_study_that_computed_no_figure_covers_nothing(ask, finding):
    asked = ask("{}")
    results = {"trial": StudyResult(findings=(finding(95, "mean_recovery"), finding(None, reason="one result")))}
    missing = {gap.characteristic: gap.why for gap in gaps(asked.loaded.protocol, asked.studies, results)}
    assert "trueness" not in missing
    assert "no figure was computed" in missing["repeatability"]


def test_a_gap_says_whether_this_version_could_fill_it():
    available = covered_characteristics(kinds())
    for gap in gaps(protocol(), {}):
        could = "no study of this protocol gives it" in gap.why
        assert could is (gap.characteristic in available)


def test_every_characteristic_of_a_study_is_known():
    assert covered_characteristics(kinds()) <= set(characteristics())


def test_a_screening_protocol_is_expected_to_show_its_screening_and_no_trueness(ask):
    limit = "  limit: {value: 5, source: own, reason: contract}"
    for use, there, absent in (("screening", "screening_performance", "trueness"),
                               ("quantitative", "trueness", "screening_performance")):  # fmt: skip
        asked = ask("{}", intended_use=use, use="[]", method=limit)
        missing = {gap.characteristic for gap in gaps(asked.loaded.protocol, {})}
        assert there in missing and absent not in missing


# designs of screening studies, held against the study itself


PLANNED = {"eu-2023-2782-screening": (20, 5), "eu-2023-2782-screening-commodity": (10, None),
           "eu-2023-2782-screening-verification": (6, None)}  # fmt: skip


@pytest.mark.parametrize("name", PLANNED)
def test_a_screening_design_counts_negatives_and_samples_at_the_target(name, screened):
    n, days = PLANNED[name]
    enough, one_too_few = screened(name, n, n), screened(name, n, n - 1)
    assert {line.asked for line in enough} >= {f"{n} negative samples", f"{n} samples at the target"}
    assert [line.asked for line in enough if line.short] == []
    assert [line.asked for line in one_too_few if line.short] == [f"{n} samples at the target"]
    assert any(line.asked == f"results on {days} days" for line in enough) is (days is not None)


def test_a_further_commodity_wants_every_sample_at_the_target_beyond_the_cut_off(screened):
    for name in PLANNED:
        lines = screened(name, 20, 20, missed=5.0)
        asked = [line.asked for line in lines if line.short]
        assert asked == ([] if name == "eu-2023-2782-screening" else ["every sample at the target beyond the cut-off"])


def test_negatives_above_a_fifth_and_a_cut_off_older_than_a_year_fall_short(screened):
    lines = screened("eu-2023-2782-screening", 20, 20, content=20.1, control={"positives_per_batch": "1",
                     "redetermined_after_months": "18"})  # fmt: skip
    assert [line.present for line in lines if line.short] == ["20.1 %", "1 in each batch", "18 months"]
    silent = screened("eu-2023-2782-screening", 20, 20, control=None)
    assert [line.present for line in silent if line.short] == ["the protocol does not say"] * 2


def test_a_screening_design_is_held_against_the_plan_before_there_are_results(screened):
    lines = screened("eu-2023-2782-screening", 20, 19, results=False)
    assert [line.asked for line in lines if line.short] == ["20 samples at the target"]
    assert all(line.present.endswith("(as planned)") for line in lines)


@pytest.fixture
def screened():
    """Minimum designs of a screening study with so many samples."""

    def hold(name, negatives, positives, *, missed=0.0, content=10.0, results=True,
             control=MappingProxyType({"positives_per_batch": "2", "redetermined_after_months": "12"})):  # fmt: skip
        kind = kinds()["screening"]
        keys = {"kind": "screening", "target": "5.0", "reads": "content", "response": "proportional",
                "design": {"negatives": str(negatives), "positives": str(positives), "days": "5"},
                "minimum_design": [name]}  # fmt: skip
        settings = kind.settings.model_validate(keys | ({"quality_control": dict(control)} if control else {}))
        method = SimpleNamespace(limit=None)
        loaded = SimpleNamespace(protocol=SimpleNamespace(studies={"s": settings}, use=(), method=method))
        found = tuple(
            Finding(name=each, level=None, value=value, unit="%", n=n, formula="", source="")
            for each, value, n in (("false_positive_rate", 0.0, negatives), ("false_negative_rate", missed, positives),
                                   ("negative_content", content, negatives))
        )  # fmt: skip
        result = StudyResult(findings=found, varied=days(5))
        return minimum_designs(loaded, {"s": kind}, {"s": result} if results else {})

    return hold


# clauses


def test_clauses_are_answered_in_part_while_there_are_gaps():
    states = {each.clause: each.state for each in clauses(protocol(), {})}
    assert states["7.2.2"] == "in part"
    assert states["7.6"] == states["6.4"] == "not answered"


def test_clauses_point_at_sections_of_the_dossier():
    from validate.dossier.context import ANCHORS

    assert {each.anchor for each in clauses(protocol(), {})} <= set(ANCHORS)
