"""Design, pictures, limits of use: what the dossier shows beside the figures."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from validate.studies.recovery.study import STUDY
from validate.studies.recovery.tests.bench import METHOD, evaluate, job
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.plot import Plot, Points, Whiskers

DAYS = ["a", "a", "b", "b", "c", "c"]
SIX = [4.6, 4.9, 4.4, 4.8, 4.7, 4.5]


def fact(result: StudyResult, name: str) -> tuple[str, str, bool]:
    found = next(f for f in result.design if f.name == name)
    return found.planned, found.carried_out, found.short


def picture(result: StudyResult, name: str) -> Plot:
    return next(plot for plot in result.plots if plot.name == name)


def limits(**more: Any) -> tuple[str, ...]:
    study_input = job(SIX, **more)
    return STUDY.limits(study_input, STUDY.evaluate(study_input))


def test_design_as_carried_out_is_counted_at_the_poorest_level() -> None:
    result = evaluate(SIX[:5], day=DAYS[:5], analyst="V", setting={"design": {"days": "3", "analysts": "2"}})
    assert fact(result, "results per level and day") == ("2", "1 to 2", True)
    assert fact(result, "days") == ("3", "3", False)
    assert fact(result, "analysts") == ("2", "1", True)


def test_missing_level_makes_the_design_short() -> None:
    assert fact(evaluate(SIX, levels=("5", "20")), "levels (µg/kg)") == ("5, 20", "5", True)


def test_conditions_are_varied_constant_or_not_recorded() -> None:
    result = evaluate(SIX, day=DAYS, analyst="V")
    assert [(v.factor, v.state) for v in result.varied[:3]] == [
        ("days", "varied"),
        ("runs", "not recorded"),
        ("analysts", "constant"),
    ]


def test_picture_shows_single_results_and_the_mean_with_its_limits() -> None:
    result = evaluate(SIX, day=DAYS)
    plot = picture(result, "recovery_by_level")
    points, whiskers = plot.layers[0], plot.layers[1]
    assert isinstance(points, Points) and isinstance(whiskers, Whiskers)
    np.testing.assert_allclose(points.y, [92, 98, 88, 96, 94, 90])
    assert points.rows == (2, 3, 4, 5, 6, 7)
    shown = result.finding("mean_recovery", "5").interval("shown")  # type: ignore[union-attr]
    assert (whiskers.low, whiskers.high) == ((shown.low,), (shown.high,))
    assert plot.criterion_of == "mean_recovery"


def test_picture_by_day_shares_one_scale_among_levels() -> None:
    found, added = [*SIX, *(10 * f for f in SIX)], ["5"] * 6 + ["50"] * 6
    plot = picture(evaluate(found, added=added, levels=("5", "50"), day=DAYS * 2), "results_by_day")
    first, second = plot.layers[0], plot.layers[1]
    np.testing.assert_allclose(first.y, second.y)
    assert plot.x.categories == ("a", "b", "c")


def test_long_series_are_thinned_and_keep_their_ends() -> None:
    found = [4.0 + (i * 7919 % 5000) / 5000 for i in range(5000)]
    plot = picture(evaluate(found), "recovery_by_level")
    points = plot.layers[0]
    assert len(points.y) == 2000
    np.testing.assert_allclose([min(points.y), max(points.y)], [20 * min(found), 20 * max(found)])
    assert "2000 results are drawn" in plot.sentence


def test_no_picture_by_day_without_days() -> None:
    assert [plot.name for plot in evaluate(SIX).plots] == ["recovery_by_level"]


def test_scope_beyond_the_levels_is_a_limit_of_use() -> None:
    told = limits(method=replace(METHOD, scope_from=1, scope_to=40))
    assert "The scope begins at 1 µg/kg, below the lowest level." in told
    assert "The scope ends at 40 µg/kg, above the highest level." in told


def test_spikes_few_days_and_one_analyst_are_limits_of_use() -> None:
    told = limits(day=DAYS, analyst="V")
    assert any("naturally grown-in analyte" in text for text in told)
    assert any(text.startswith("Only 3 days") for text in told)
    assert any(text.startswith("One analyst only") for text in told)
