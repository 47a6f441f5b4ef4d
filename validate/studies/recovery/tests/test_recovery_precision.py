"""How far results lie apart, from which groups, and in which form of HorRat."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from validate.studies.recovery.settings import HORRATS
from validate.studies.recovery.tests.bench import METHOD, evaluate
from validate.vocabulary.evaluation import StudyResult
from validate.vocabulary.finding import Finding

DAYS = ["a", "a", "b", "b", "c", "c", "d", "d", "e", "e"]
FOUND = [10.1, 10.3, 9.6, 9.9, 10.8, 10.6, 10.0, 9.7, 10.4, 10.9]


def at_ten(found: list[Any] = FOUND, **more: Any) -> StudyResult:
    return evaluate(found, **({"added": "10", "levels": ("10",)} | more))


def spread(name: str, result: StudyResult) -> Finding:
    finding = result.finding(name, "10")
    assert finding is not None
    return finding


def test_repeatability_is_pooled_within_days() -> None:
    """Half the sum of squared differences over 5: SS_w = 0.255 on 5 df, s_r = 0.22583."""
    finding = spread("s_r", at_ten(day=DAYS))
    assert (finding.value, finding.df, finding.groups) == (pytest.approx(math.sqrt(0.051)), 5, 5)
    assert finding.formula.endswith("pooled within days")


def test_intermediate_precision_adds_the_spread_between_days() -> None:
    """MS_b 0.3865, MS_w 0.0510: s_I² = 0.051 + (0.3865 − 0.051)/2; 95 % MLS 0.30642 to 1.27556."""
    finding = spread("s_intermediate", at_ten(day=DAYS))
    assert finding.value == pytest.approx(math.sqrt(0.051 + 0.3355 / 2))
    shown = finding.interval("shown")
    assert (shown.low, shown.high) == (pytest.approx(0.30642, abs=5e-6), pytest.approx(1.27556, abs=5e-6))
    met = finding.interval("met")
    assert (met.low, met.high) == (pytest.approx(0.32573, abs=5e-6), pytest.approx(1.05699, abs=5e-6))


def test_lower_limit_for_not_met_is_the_smaller_of_two_methods() -> None:
    """At 90 % (K = 1) Satterthwaite reaches lower than MLS (0.32573) for these days."""
    interval = spread("s_intermediate", at_ten(day=DAYS)).interval("not_met")
    assert interval.level == pytest.approx(0.90)
    assert interval.low < 0.32573


def test_relative_spread_is_that_of_results_not_of_recoveries() -> None:
    """With 5 native in 15 found the recoveries scatter half as much again, relatively."""
    result = at_ten([f + 5 for f in FOUND], day=DAYS, setting={"native": {"value": "5", "u": "0"}})
    assert spread("rsd_r", result).value == pytest.approx(100 * math.sqrt(0.051) / 15.23)


def test_without_days_the_spread_is_named_for_what_it_is() -> None:
    finding = spread("s_r", at_ten())
    mean = sum(FOUND) / 10
    assert finding.value == pytest.approx(math.sqrt(sum((f - mean) ** 2 for f in FOUND) / 9))
    assert finding.formula.endswith("SD of all results of the level; neither days nor runs are recorded (n − 1)")


def test_without_days_there_is_no_intermediate_precision() -> None:
    finding = spread("rsd_intermediate", at_ten())
    assert (finding.value, finding.reason) == (None, "neither days, runs nor analysts are recorded for every result")


def test_one_day_tells_nothing_of_days() -> None:
    result = at_ten(day="a")
    assert spread("rsd_intermediate", result).reason == "only one day: nothing tells how days differ"
    assert spread("rsd_r", result).value is not None


def test_one_result_a_day_gives_intermediate_precision_only() -> None:
    result = at_ten(FOUND[:6], day=["a", "b", "c", "d", "e", "f"])
    mean = sum(FOUND[:6]) / 6
    assert spread("s_intermediate", result).value == pytest.approx(
        math.sqrt(sum((f - mean) ** 2 for f in FOUND[:6]) / 5)
    )
    assert (
        spread("s_r", result).reason == "one result per day: repeatability cannot be told from the spread between days"
    )


def test_analysts_who_take_turns_are_part_of_the_spread_between_days() -> None:
    result = at_ten(day=DAYS, analyst=["V", "V", "O", "O", "V", "V", "O", "O", "V", "V"])
    assert spread("s_r", result).df == 5
    assert "holds the spread between analysts" in result.facts["runs"]


def test_analysts_who_share_a_day_are_kept_out_of_repeatability() -> None:
    """Two days, two analysts each, duplicates: four runs, so s_r has 4 df; days still count as 2."""
    result = at_ten(FOUND[:8], day=["a"] * 4 + ["b"] * 4, analyst=["V", "V", "O", "O"] * 2)
    finding = spread("s_r", result)
    assert (finding.df, finding.groups) == (4, 2)
    assert "days of one analyst" in result.facts["runs"]
    assert spread("mean_recovery", result).df == 1


def test_protocol_may_say_what_makes_a_run() -> None:
    result = at_ten(FOUND[:8], day=["a"] * 4 + ["b"] * 4, analyst=["V", "V", "O", "O"] * 2, setting={"group_by": "day"})
    assert spread("s_r", result).df == 6


def test_negative_component_is_told_and_taken_as_zero() -> None:
    result = at_ten([9.0, 11.0, 9.0, 11.0, 9.1, 11.1], day=["a", "a", "b", "b", "c", "c"])
    finding = spread("s_intermediate", result)
    assert finding.value == pytest.approx(math.sqrt(2))
    assert any("negative" in note for note in finding.notes)


def test_every_horrat_is_the_rsd_over_its_own_denominator() -> None:
    """RSD_r over share·PRSD_R at 10 µg/kg: 2·C^−0.15 = 31.698, 2^(1−0.5 log C) = 32, Thompson 22."""
    predicted = {"horwitz-aoac": 2 * 1e-8**-0.15, "horwitz": 32.0, "thompson": 22.0}
    share = {"r-over-PRSD_R": 1, "r-over-0.66-PRSD_R": 0.66, "r-over-half-PRSD_R": 0.5}
    result = at_ten(day=DAYS, setting={"horrat": list(HORRATS)})
    rsd = spread("rsd_r", result).value
    for name, (kind, model) in HORRATS.items():
        assert spread(name, result).value == pytest.approx(rsd / (share[kind] * predicted[model])), name


def test_three_forms_of_horrat_are_shown_and_a_judged_one_is_added() -> None:
    extra = "horrat_r-over-0.66-PRSD_R_thompson"
    accept = {extra: {"at_most": "2", "judge_by": "estimate", "source": "own", "reason": "test"}}
    assert sum(f.name.startswith("horrat") for f in at_ten(day=DAYS).findings) == 3
    assert extra in {f.name for f in at_ten(day=DAYS, setting={"accept": accept}).findings}


@pytest.mark.parametrize(
    ("method", "reason"),
    [
        (replace(METHOD, method_defined=True), "defined by the method"),
        (replace(METHOD, mass_fraction_per_unit=None, unit="ng/mL"), "no mass fraction"),
    ],
)
def test_horrat_stays_away_where_horwitz_does_not_apply(method: Any, reason: str) -> None:
    result = at_ten(day=DAYS, method=method)
    horrats = [f for f in result.findings if f.name.startswith("horrat")]
    assert horrats and all(f.value is None and reason in (f.reason or "") for f in horrats)
