"""What `check` tells before anything is computed, and what the dossier shows beside the figures."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from pydantic import ValidationError

from validate.studies.contract import CheckInput
from validate.studies.detection.study import STUDY
from validate.studies.detection.tests.low_level_bench import BLANKS, DAYS, METHOD, evaluate, job, settings
from validate.vocabulary.place import Place
from validate.vocabulary.problem import ERROR, Problem


def problems(by_level: dict[str, list[Any]], **more: Any) -> dict[str, Problem]:
    """Problems by code; places read as the keys or the cell they were asked for."""
    made = job(by_level, **more)
    asked = CheckInput(
        name="detection",
        settings=made.settings,
        table=made.table,
        method=made.method,
        place=lambda *keys: Place(".".join(map(str, keys))),
        cell=lambda row, role: Place(f"{role} of row {row}"),
    )
    return {p.code.removeprefix("detection-"): p for p in STUDY.check(asked)}


def test_blanks_on_three_days_are_no_problem() -> None:
    assert problems({"0": BLANKS}, day=DAYS) == {}


def test_floored_blanks_are_told_with_what_to_measure_instead() -> None:
    found = problems({"0": [0.0, 0.0, 0.1] * 4}, method=replace(METHOD, floor=0.0), day=list("abc") * 4)
    assert found["blanks-floored"].message.startswith("8 of 12 blanks read the floor (0 µg/kg)")
    assert "1 to 3 times the expected limit" in found["blanks-floored"].mend


def test_rounded_and_censored_blanks_are_told() -> None:
    assert "blanks-rounded" in problems({"0": [0.1] * 10}, method=replace(METHOD, resolution=0.1), day=DAYS)
    assert "blanks-censored" in problems({"0": [*BLANKS[:9], "<0.1"]}, day=DAYS)


def test_too_few_blanks_and_days_are_told() -> None:
    assert "number of blanks: 9" in problems({"0": BLANKS[:9]}, day=DAYS[:9])["few-blanks"].message
    assert "few-days" in problems({"0": BLANKS}, day="a")
    assert "days-not-recorded" in problems({"0": BLANKS})
    assert "no-blanks" in problems({"1": [1.0] * 10}, day=DAYS)


def test_a_level_must_be_declared_and_measured() -> None:
    undeclared = problems({"0": BLANKS, "2": [2.0]}, day="a", setting={"design": {"levels": ["1"]}})
    assert undeclared["level-not-declared"].severity == ERROR
    assert str(undeclared["level-not-declared"].place) == "level of row 12"
    assert "level-without-results" in undeclared
    assert "2 samples at level 1" in problems({"0": BLANKS, "1": [1.0, 1.1]}, day="a")["fewer-than-planned"].message


def test_standards_need_no_declared_level() -> None:
    labels = [""] * 10 + ["A"] * 3
    assert "level-not-declared" not in problems(
        {"0": BLANKS, "7": [7.0, 7.1, 7.2]}, day="a", calibration=labels, setting={"design": {"levels": []}}
    )


def test_detected_is_yes_or_no() -> None:
    found = problems({"0": BLANKS}, day=DAYS, detected=["no"] * 9 + ["maybe"])["not-yes-or-no"]
    assert (found.severity, '"maybe"' in found.message) == (ERROR, True)


def test_an_approach_needs_its_samples() -> None:
    assert "no-standards" in problems({"0": BLANKS}, day=DAYS, setting={"lod": {"by": "calibration"}})
    assert "few-calibrations" in problems({"0": BLANKS}, day=DAYS, setting={"lod": {"by": "intercept SD"}})
    assert "no-levels" in problems({"0": BLANKS}, day=DAYS, setting={"lod": {"by": "trials"}})


@pytest.mark.parametrize(
    "wrong",
    [
        {"design": {"levels": ["0", "1"]}},
        {"design": {"levels": ["1", "1"]}},
        {"low_level": "3"},
        {"averaged": "0"},
        {"response": "signal", "sensitivity": "as read"},
        {"lod": {"by": "guess"}},
    ],
)
def test_settings_that_do_not_fit_together_are_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        settings(**wrong)


def test_every_problem_of_the_catalogue_has_words() -> None:
    from validate.studies.detection.checking import PROBLEMS

    assert all(entry["title"] and entry["message"] and entry["mend"] for entry in PROBLEMS.entries.values())


def test_design_as_carried_out_is_counted_at_the_poorest_level() -> None:
    result = evaluate({"0": BLANKS, "1": [1.0] * 10, "2": [2.0] * 8}, setting={"design": {"blanks": "20", "days": "3"}})
    facts = {fact.name: (fact.planned, fact.carried_out, fact.short) for fact in result.design}
    assert facts["blanks"] == ("20", "10", True)
    assert facts["samples at each level"] == ("10", "8 to 10", True)
    assert facts["days"] == ("3", "not recorded", True)


def test_pictures_show_the_critical_value_and_the_share_detected() -> None:
    plots = {plot.name: plot for plot in evaluate({"0": BLANKS, "1": [1.0, 1.1], "2": [2.0, 2.1]}, day="a").plots}
    assert set(plots) == {"low_levels", "detected_by_level"}
    assert plots["low_levels"].x.categories == ("0 (blank)", "1", "2")
    assert plots["low_levels"].layers[0].rows == tuple(range(2, 16))


def test_one_blank_material_and_a_scope_below_the_limit_are_limits_of_use() -> None:
    asked = job({"0": BLANKS}, day=DAYS, method=replace(METHOD, scope_from=0.1))
    told = STUDY.limits(asked, STUDY.evaluate(asked))
    assert any("blank material" in text for text in told)
    assert "The scope begins at 0.1 µg/kg, below the limit of detection." in told


def test_low_spikes_may_lie_below_the_scope() -> None:
    assert settings().levels_beyond_scope
