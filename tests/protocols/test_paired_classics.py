"""Shoes and sleep, evaluated as lot comparisons, give the figures that R gives."""

from __future__ import annotations

from pathlib import Path

import pytest

from validate.vocabulary.verdict import Verdict

PROTOCOLS = Path(__file__).parents[2] / "protocols"
R = {
    "shoes": {"estimate": -0.41, "met": (-0.634426399199845, -0.185573600800155),
              "shown": (-0.686953905799619, -0.133046094200381), "p": 0.000474072198332938},
    "sleep": {"estimate": -1.58, "met": (-2.29300526702928, -0.866994732970716),
              "shown": (-2.45988576327698, -0.700114236723018), "p": 0.0211168602465007},
}  # fmt: skip
"""t.test(x, y, paired = TRUE) and one-sided against the nearer margin, R 4.2.2."""


@pytest.mark.parametrize("name", sorted(R))
def test_paired_classics_agree_with_r(name: str) -> None:
    from validate import evaluate, load

    evaluation = evaluate(load(PROTOCOLS / name))
    result, wanted = evaluation.studies[0].as_reported, R[name]
    found = result.finding("lot_difference")
    assert (found.n, found.df) == (10, 9)
    assert found.value == pytest.approx(wanted["estimate"], rel=1e-12)
    for use in ("met", "shown"):
        limits = found.interval(use)
        assert (limits.low, limits.high) == pytest.approx(wanted[use], rel=1e-12)
    by_level = next(table for table in result.tables if table.name == "by_level")
    assert by_level.rows[0][-1] == pytest.approx(wanted["p"], rel=1e-10)
    assert evaluation.requirements[0].as_reported.verdict is Verdict.MET


def test_equal_within_the_margin_is_no_contradiction_to_a_difference_that_is_significant() -> None:
    """The 95 % interval of the shoes excludes 0, and the 90 % interval lies inside the margin."""
    from validate import evaluate, load

    evaluation = evaluate(load(PROTOCOLS / "shoes"))
    assert evaluation.studies[0].as_reported.finding("lot_difference").interval("shown").high < 0
    assert evaluation.studies[0].conclusion.words == "accept"
