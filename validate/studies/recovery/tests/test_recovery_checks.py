"""What `check` tells before anything is computed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from validate.studies.contract import CheckInput, ReferenceValue
from validate.studies.recovery.study import STUDY
from validate.studies.recovery.tests.bench import METHOD, settings, table
from validate.vocabulary.place import Place
from validate.vocabulary.problem import ERROR, Problem

SIX = [4.6, 4.9, 4.4, 4.8, 4.7, 4.5]


def problems(
    setting: dict[str, Any] | None = None,
    *,
    levels: tuple[str, ...] = ("5",),
    found: list[Any] | None = None,
    method: Any = METHOD,
    materials: dict[str, ReferenceValue] | None = None,
    **columns: Any,
) -> dict[str, Problem]:
    """Problems by code; places read as the keys or the cell they were asked for."""
    job = CheckInput(
        name="recovery",
        settings=settings(levels, **(setting or {})),
        table=None if found is None else table(found, **columns),
        method=method,
        place=lambda *keys: Place(".".join(map(str, keys))),
        cell=lambda row, role: Place(f"{role} of row {row}"),
        materials=materials or {},
    )
    return {p.code.removeprefix("recovery-"): p for p in STUDY.check(job)}


def test_protocol_without_a_table_can_be_checked() -> None:
    assert problems() == {}


def test_level_in_the_table_must_be_declared() -> None:
    found = problems(found=[*SIX, 9.0], added=["5"] * 6 + ["10"])["level-not-declared"]
    assert (str(found.place), found.severity) == ("added of row 8", ERROR)
    assert "level 10" in found.message


def test_declared_level_without_results_is_told() -> None:
    assert "level 20" in problems(levels=("5", "20"), found=SIX)["level-without-results"].message


def test_too_few_results_for_a_verdict_are_told() -> None:
    assert "4 numerical results at level 5" in problems(found=[*SIX[:4], "<1"])["few-results"].message


def test_fewer_results_than_planned_are_told() -> None:
    assert "fewer-than-planned" in problems({"design": {"replicates": "2", "days": "5"}}, found=SIX)


def test_too_few_planned_results_and_days_are_told_before_the_work() -> None:
    design = {"replicates": "1", "days": "3"}
    found = problems({"design": design, "accept": {"rsd_r": {}, "rsd_intermediate": {}}})
    assert {"too-few-replicates-planned", "too-few-days-planned", "one-replicate"} <= set(found)


def test_nothing_added_is_no_level() -> None:
    assert problems(levels=("0", "5"))["level-not-positive"].severity == ERROR


def test_result_on_the_unspiked_sample_needs_a_word_in_the_protocol() -> None:
    found = problems(found=[*SIX, 0.1], added=["5"] * 6 + ["0"])["added-zero"]
    assert "native: {from: rows}" in found.mend
    assert "added-zero" not in problems({"native": {"from": "rows"}}, found=[*SIX, 0.1], added=["5"] * 6 + ["0"])


def test_native_rows_that_are_not_there_are_missed() -> None:
    assert "native-rows-missing" in problems({"native": {"from": "rows"}}, found=SIX)


@pytest.mark.parametrize(
    "native",
    [{"value": "1"}, {"from": "rows", "value": "1"}, {"value": "1", "s": "0.1"}, {"value": "1", "s": "1", "n": "1"}],
)
def test_native_content_needs_one_clear_form(native: dict[str, str]) -> None:
    assert "native-unclear" in problems({"native": native})


def test_spike_below_the_native_content_is_told() -> None:
    assert "spike too small" in problems({"native": {"value": "8", "u": "0.1"}})["native-exceeds-level"].message


def test_what_the_protocol_tells_of_levels_is_not_told_twice() -> None:
    """A level outside the scope or declared twice is a problem of the protocol's own check."""
    assert problems(levels=("5", "5"), method=replace(METHOD, scope_from=10, scope_to=40)) == {}


def test_a_day_that_is_missing_in_some_rows_is_told() -> None:
    """Otherwise the days of the whole level would be left out in silence."""
    days = ["1", "1", "2", "", "3", "3"]
    told = problems(found=SIX, day=days)["label-missing"]
    assert str(told.place) == "day of row 5"
    assert told.message == "the day is missing in 1 of 6 results at level 5, first here: no day of this level is used"
    assert "label-missing" not in problems(found=SIX, day=["1", "1", "2", "2", "3", "3"])
    assert "label-missing" not in problems(found=SIX, day="")
    assert "label-missing" not in problems(found=[*SIX[:3], "NA", *SIX[4:]], day=days)


def test_recoveries_in_the_place_of_results_are_told() -> None:
    levels, added = ("1", "5", "25"), ["1", "1", "5", "5", "25", "25"]
    found = problems(levels=levels, found=[0.91, 0.95, 0.9, 0.93, 0.89, 0.92], added=added)
    assert "results-look-like-recoveries" in found
    blundered = problems(
        levels=levels, found=[0.91, 0.95, 9.0, 0.93, 0.9, 0.89, 0.92], added=[*added[:2], "5", *added[2:]]
    )
    assert "results-look-like-recoveries" in blundered
    assert "results-look-like-recoveries" not in problems(
        levels=levels, found=[0.9, 1.0, 4.8, 4.9, 22.0, 23.0], added=added
    )


def test_certified_level_needs_its_material() -> None:
    certified = {"contamination": "certified"}
    assert "reference-missing" in problems(certified)
    assert "reference-unknown" in problems(certified | {"reference": {"5": "CRM"}})
    crm = {"CRM": ReferenceValue(material="CRM", value=5.1, u=0.1)}
    assert problems(certified | {"reference": {"5": "CRM"}}, materials=crm) == {}


def test_reference_must_fit_its_level() -> None:
    far = {"CRM": ReferenceValue(material="CRM", value=50.0, u=1.0)}
    found = problems({"contamination": "certified", "reference": {"5": "CRM", "7": "CRM"}}, materials=far)
    assert {"reference-far-from-level", "reference-level"} <= set(found)


def test_correction_for_recovery_must_be_told_in_full() -> None:
    assert "correction-missing" in problems({"corrected_for_recovery": "yes"})
    assert "correction-unused" in problems({"correction": {"recovery_percent": "85", "origin": "earlier study"}})


def test_every_problem_of_the_catalogue_has_words() -> None:
    from validate.studies.recovery.checking import PROBLEMS

    assert all(entry["title"] and entry["message"] and entry["mend"] for entry in PROBLEMS.entries.values())


def test_grouping_by_what_is_not_recorded_is_refused() -> None:
    found = problems({"group_by": "day and analyst"}, found=SIX, day=list("aabbcc"))["group-not-recorded"]
    assert (found.severity, "column analyst" in found.message) == (ERROR, True)
