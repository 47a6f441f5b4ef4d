"""The decision at the limit, and what `check` tells before anything is computed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pandas as pd
import pytest
from pydantic import ValidationError

from validate.studies.contract import CheckInput
from validate.studies.uncertainty.study import STUDY
from validate.studies.uncertainty.tests.budget_bench import (
    BIAS,
    METHOD,
    PRECISION,
    evaluate,
    job,
    lines,
    needed,
    settings,
)
from validate.tables.table import Table
from validate.vocabulary.place import Place
from validate.vocabulary.problem import ERROR, Problem

KNOWN = (needed("s_intermediate", 0.4, df=None), needed("bias", 0.0, se=0.0, df=None))
"""u = 0.4 with infinite degrees of freedom: U = 0.8 at the limit of 5."""


@pytest.mark.parametrize(
    ("rule", "acceptance", "risk"),
    [("simple", 5.0, 50.0), ("guard band", 4.2, 2.275), ("beyond reasonable doubt", 5.8, 97.725)],
)
def test_acceptance_limit_and_worst_risk_of_each_rule(rule: str, acceptance: float, risk: float) -> None:
    result = evaluate(*KNOWN, rule=rule)
    assert result.finding("acceptance_limit").value == pytest.approx(acceptance)
    assert result.finding("worst_risk").value == pytest.approx(risk, abs=5e-4)
    assert result.finding("worst_rejection_risk").value == pytest.approx(100 - risk, abs=5e-4)


def test_few_degrees_of_freedom_raise_the_risk() -> None:
    few = evaluate(needed("s_intermediate", 0.4, df=4.0), needed("bias", 0.0, se=0.0, df=None))
    assert few.finding("worst_risk").value == pytest.approx(5.806, abs=5e-4), (
        "Student's t at 4 degrees of freedom, t = 2"
    )


def test_all_rules_stand_side_by_side_whichever_is_declared() -> None:
    rows = lines(evaluate(*KNOWN), "rules")
    assert [row[0] for row in rows] == ["simple", "guard band (declared)", "beyond reasonable doubt"]
    assert [row[2] for row in rows] == pytest.approx([5.0, 4.2, 5.8])
    at_limit = next(row for row in lines(evaluate(*KNOWN), "decisions") if row[0] == pytest.approx(5.0))
    assert at_limit[2:5] == ("accept", "reject", "accept")
    assert at_limit[5] == pytest.approx(50)


def test_results_of_the_table_are_decided_by_the_declared_rule() -> None:
    frame = pd.DataFrame(
        {"sample": list("abcde"), "result": [4.2, 4.3, 5.9, float("nan"), float("nan")]}, index=range(2, 7)
    )
    marks = pd.DataFrame({"sample": [""] * 5, "result": ["", "", "", "<1", "n.d."]}, index=range(2, 7))
    rows = lines(evaluate(*KNOWN, table=Table("results.csv", frame, marks)), "results")
    assert [row[3].split(",")[0] for row in rows] == ["accept", "reject", "reject", "accept", "no decision"]
    assert rows[0][4] == pytest.approx(2.275, abs=5e-4)
    assert rows[1][4] == pytest.approx(100 - 4.006, abs=5e-4)


def test_no_limit_no_decision() -> None:
    result = evaluate(*KNOWN, method=replace(METHOD, limit=None))
    assert result.finding("acceptance_limit") is None
    other = evaluate(*KNOWN, method=replace(METHOD, limit=7.0))
    assert other.finding("acceptance_limit").reason == "the limit 7 µg/kg is not among the levels"


def test_results_that_read_low_at_the_limit_are_told() -> None:
    assert any("read low by 6 % at the limit" in remark.text for remark in evaluate(PRECISION, BIAS).remarks)
    high = evaluate(PRECISION, needed("bias", 0.3, se=0.1))
    assert not any("read low" in remark.text for remark in high.remarks)


def test_picture_of_the_risk_passes_half_at_the_limit() -> None:
    plots = {plot.name: plot for plot in evaluate(*KNOWN).plots}
    curve = plots["risk"].layers[0]
    middle = min(range(len(curve.x)), key=lambda i: abs(curve.x[i] - 5.0))
    assert curve.y[middle] == pytest.approx(50)
    assert [layer.label for layer in plots["risk"].layers[1:]] == ["limit", "acceptance limit"]


def problems(*, method: Any = METHOD, table: Table | None = None, **setting: Any) -> dict[str, Problem]:
    asked = CheckInput(
        name="uncertainty",
        settings=settings(**setting),
        table=table,
        method=method,
        place=lambda *keys: Place(".".join(map(str, keys))),
        cell=lambda row, role: Place(f"{role} of row {row}"),
    )
    return {p.code.removeprefix("uncertainty-"): p for p in STUDY.check(asked)}


def test_a_level_at_the_limit_is_no_problem() -> None:
    assert problems() == {}


def test_the_limit_must_be_among_the_levels() -> None:
    found = problems(levels=["1", "10"])["limit-not-a-level"]
    assert (found.severity, str(found.place)) == (ERROR, "levels")
    assert "no-limit" in problems(method=replace(METHOD, limit=None))


def test_fractions_and_impossible_percentages_are_told() -> None:
    assert "impossible-percent" in problems(bias={"relative_u_of_reference_percent": "120"})
    assert "fraction" in problems(bias={"relative_u_of_reference_percent": "0.02"})
    small = {"name": "sampling", "relative_u_percent": "0.02", "origin": "earlier"}
    assert "fraction" in problems(contributions=[small])


def test_a_default_of_the_law_needs_its_condition() -> None:
    law = {"law": "eu-2023-2782"}
    assert problems(default_of_law=law)["law-not-shown"].severity != ERROR
    assert problems(default_of_law=law, basis="default of the law")["law-without-condition"].severity == ERROR


@pytest.mark.parametrize(
    "wrong",
    [
        {"levels": ["0"]},
        {"basis": "default of the law"},
        {"k": "50"},
        {"precision": {"study": "a", "relative_percent": "5"}},
        {"precision": {"relative_percent": "5"}},
        {"bias": {"recovery_percent": "95"}},
        {"contributions": [{"name": "a", "relative_u_percent": "1", "origin": "b"}] * 2},
        {"rule": "gut feeling"},
    ],
)
def test_settings_that_do_not_fit_together_are_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        settings(**wrong)


def test_every_problem_of_the_catalogue_has_words() -> None:
    from validate.studies.uncertainty.checking import PROBLEMS

    assert all(entry["title"] and entry["message"] and entry["mend"] for entry in PROBLEMS.entries.values())


def test_range_correction_and_rule_are_limits_of_use() -> None:
    asked = job(PRECISION, BIAS)
    told = " ".join(STUDY.limits(asked, STUDY.evaluate(asked)))
    assert "stated for 5 µg/kg" in told and "not corrected for recovery" in told and "guard band" in told
