"""The working range, and the record of set points."""

from __future__ import annotations

import pytest

from validate.studies.contract import NeededFinding
from validate.studies.linearity.tests.linearity_bench import X, Y, evaluate, finding_of, own, table_of, texts, value
from validate.vocabulary.finding import Finding
from validate.vocabulary.verdict import Verdict

BEND_X = [v for v in (1, 2, 5, 10, 20, 40, 80) for _ in (0, 1)]
BEND_Y = [(2 * v if v < 80 else 120) * (1 + e) for v, e in zip(BEND_X, [0.005, -0.005] * 7, strict=True)]
"""Straight up to 40, 25 % low at 80; constructed."""
WITHIN_TEN = own("largest_deviation", at_most="10", by="estimate")


def needed(level: str, verdict: Verdict) -> NeededFinding:
    finding = Finding(name="mean_recovery", level=level, value=60.0, unit="%", formula="", source="")
    return NeededFinding(study="recovery", finding=finding, verdicts=(verdict,))


def ends(**more: object) -> tuple[float | None, float | None]:
    result = evaluate(**more)  # type: ignore[arg-type]
    return finding_of(result, "working_range_from").value, finding_of(result, "working_range_to").value


def test_range_ends_before_the_level_at_which_the_signal_gives_way() -> None:
    bent = {"x": BEND_X, "y": BEND_Y, "weights": "1/x^2", "accept": WITHIN_TEN}
    assert value(evaluate(**bent), "largest_deviation") > 10
    assert ends(**bent) == (1, 40)


def test_range_is_the_whole_where_the_bound_holds_everywhere() -> None:
    assert ends(weights="1/x^2", accept=own("deviation", between=["-20", "20"])) == (1, 40)


def test_range_by_interval_is_no_wider_than_by_estimate() -> None:
    """The limits at level 1 are wider than ± 10 %, its deviation is not."""
    by_interval = own("deviation", between=["-10", "10"])
    assert ends(x=X, y=Y, accept=own("deviation", between=["-10", "10"], by="estimate")) == (1, 40)
    assert ends(x=X, y=Y, accept=by_interval) == (None, None)


def test_range_needs_a_declared_bound() -> None:
    reason = finding_of(evaluate(), "working_range_from").reason
    assert reason == "no bound on the deviation is declared in this protocol"


@pytest.mark.parametrize("verdict", [Verdict.NOT_MET, Verdict.NOT_SHOWN])
def test_range_passes_no_level_at_which_another_study_fails(verdict: Verdict) -> None:
    loose = own("deviation", between=["-50", "50"], by="estimate")
    result = evaluate(accept=loose, weights="1/x^2", needed=(needed("1", verdict), needed("5", Verdict.MET)))
    assert (value(result, "working_range_from"), value(result, "working_range_to")) == (2, 40)
    assert f"mean_recovery of recovery {verdict} at 1" in texts(result)


def test_level_of_another_study_between_two_levels_of_the_line_counts_too() -> None:
    loose = own("deviation", between=["-50", "50"], by="estimate")
    result = evaluate(accept=loose, weights="1/x^2", needed=(needed("3", Verdict.NOT_MET),))
    reason = finding_of(result, "working_range_from").reason
    assert reason == (
        "the line alone holds from 1 to 40 µg/kg, but other studies have criteria not met or not shown at 3 µg/kg"
    )


DATES = ["2031-03-01", "2031-03-02", "2031-03-03"]
RECORD = {
    "x": [5, 5, 5, 20, 20, 20],
    "y": [5.1, 4.9, 5.6, 19.8, 20.4, 20.1],
    "form": "set points",
    "columns": {"date": DATES * 2},
    "allowed": {"5": ["4.5", "5.5"]},
}


def test_record_lists_every_reading_with_its_allowed_range() -> None:
    rows = table_of(evaluate(**RECORD), "record").rows
    assert rows[0] == ("2031-03-01", "5", 5.1, pytest.approx(2.0), "4.5 to 5.5", "inside")
    assert rows[4][5] == "outside"
    assert [row[5] for row in rows if row[1] == "20"] == ["no range stated"] * 3


def test_reading_outside_its_range_is_flagged_with_its_row() -> None:
    (flag,) = (remark for remark in evaluate(**RECORD).remarks if remark.kind == "flag")
    assert (flag.level, flag.rows) == ("5", "4")


def test_record_of_set_points_is_no_evidence_of_linearity() -> None:
    result = evaluate(**RECORD)
    assert {finding.name for finding in result.findings} == {"set_point_deviation"}
    assert value(result, "set_point_deviation", "5") == pytest.approx(4.0)
    assert finding_of(result, "set_point_deviation", "5").df == 2
