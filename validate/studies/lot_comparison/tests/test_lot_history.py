"""Lots over time: each against the validation lot, from files that nobody vouches for."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from tests.working import recompute, recompute_limits
from validate.studies.lot_comparison.drift import Lots
from validate.studies.lot_comparison.history import LARGEST_BYTES, Step
from validate.studies.lot_comparison.tests.lots_bench import CURRENT, NEW, equivalence, evaluate, pairs, problems, value

EXAMPLE = Path(__file__).parents[1] / "example"


@pytest.fixture(scope="module")
def evaluation():
    """The evaluation of the example (B against A) as plain data."""
    from validate import evaluate as evaluate_protocol
    from validate import load
    from validate.provenance.evaluation_file import evaluation_bytes

    return json.loads(evaluation_bytes(evaluate_protocol(load(EXAMPLE))))


def written(evaluation, new="B", current="A", **changes):
    """The bytes of an evaluation of another pair of lots; `percent` moves its ratio."""
    made = json.loads(json.dumps(evaluation))
    result = made["studies"][0]["as_reported"]
    result["facts"] |= {"new": new, "current": current}
    ratio = next(f for f in result["findings"] if f["name"] == "lot_ratio")
    factor = changes.pop("percent", ratio["value"]) / ratio["value"]
    ratio["value"] *= factor
    for interval in ratio["intervals"]:
        interval["low"] *= factor
        interval["high"] *= factor
    for place, content in changes.items():
        made[place] = content
    return json.dumps(made).encode()


def history(*names):
    return {"history": [{"file": name} for name in names]}


def test_a_lot_is_followed_back_to_the_validation_lot(evaluation):
    files = {"1.json": written(evaluation, "B", "A", percent=95), "2.json": written(evaluation, "C", "B", percent=94)}
    columns = pairs()
    columns["lot"] = ["D"] * 10 + ["C"] * 10
    result = evaluate(columns, files=files, **equivalence(new="D", current="C", **history("1.json", "2.json")))
    own = value(result, "lot_ratio")
    assert value(result, "to_validation") == pytest.approx(own * 0.95 * 0.94)
    assert [row[0] for row in next(t for t in result.tables if t.name == "lots").rows] == ["A", "B", "C", "D"]
    for name in ("to_validation", "s_between_lots"):
        finding = result.finding(name)
        assert recompute(finding.working) == pytest.approx(finding.value)
        shown = finding.interval("shown")
        assert recompute_limits(finding) == pytest.approx((shown.low, shown.high), rel=1e-9), name
    assert "at least 5" in result.finding("drift_per_lot").reason


def test_drift_over_lots_that_each_passed_is_told(evaluation):
    names = ["1.json", "2.json", "3.json"]
    labels = ["A", "B", "C", "D"]
    files = {n: written(evaluation, labels[i + 1], labels[i], percent=91) for i, n in enumerate(names)}
    columns = pairs([0.92 * x for x in NEW], CURRENT)
    columns["lot"] = ["E"] * 10 + ["D"] * 10
    result = evaluate(columns, files=files, **equivalence(new="E", current="D", **history(*names)))
    assert any(remark.kind == "warning" and "drift" in remark.text for remark in result.remarks)
    drift = result.finding("drift_per_lot")
    assert drift.interval("shown").high < 0
    assert recompute(drift.working) == pytest.approx(drift.value)
    shown = drift.interval("shown")
    assert recompute_limits(drift) == pytest.approx((shown.low, shown.high), rel=1e-9)


def step(new, current, ratio, se, df=9):
    return Step(new=new, current=current, log_ratio=math.log(ratio), se=se, df=df, n=10, verdict="")


def test_errors_of_a_chain_add_up_and_lots_share_those_of_their_common_steps():
    lots = Lots((step("B", "A", 1.1, 0.03), step("C", "B", 0.9, 0.04)))
    assert lots.positions == pytest.approx([0, math.log(1.1), math.log(0.99)])
    assert lots.covariance == pytest.approx(np.array([[0, 0, 0], [0, 9e-4, 9e-4], [0, 9e-4, 25e-4]]))
    assert lots.df_of(2) == pytest.approx(25**2 / (9**2 / 9 + 16**2 / 9))


def test_lots_that_were_all_compared_with_the_validation_lot_are_no_chain():
    lots = Lots((step("B", "A", 1.1, 0.03), step("C", "A", 0.9, 0.04)))
    assert lots.positions == pytest.approx([0, math.log(1.1), math.log(0.9)])
    assert lots.covariance[1, 2] == 0


@pytest.mark.slow
def test_the_spread_between_lots_is_estimated_without_the_error_of_the_comparisons():
    """Eight lots with a true spread of 5 %, each compared with its predecessor with a standard error of 3 %."""
    random, found = np.random.default_rng(20310303), []
    for _ in range(20_000):
        true = random.normal(0, 0.05, 8)
        steps = np.diff(true) + random.normal(0, 0.03, 7)
        lots = Lots(tuple(step(str(i + 1), str(i), math.exp(s), 0.03) for i, s in enumerate(steps)))
        found.append(np.var(lots.positions, ddof=1) - lots.error_variance)
    assert np.mean(found) == pytest.approx(0.05**2, abs=3 * np.std(found) / math.sqrt(len(found)))


def test_a_lot_without_earlier_ones_says_nothing_of_the_row():
    assert evaluate().finding("to_validation") is None


def one(content, **more):
    """The codes that a single file of history gives."""
    keys = equivalence(new="C", current="B", **history("1.json")) | more
    return [p.code for p in problems(None, {"1.json": content}, **keys)]


def test_a_sound_file_is_taken_without_a_word(evaluation):
    assert one(written(evaluation)) == []


@pytest.mark.parametrize("content", [b"", b"{}", b"[1, 2", b"null", b"\xff\xfe", b"[" * 100_000, b'{"format": 1}'])
def test_what_is_no_evaluation_is_refused(content):
    assert one(content) == ["history-no-evaluation"]


def test_an_evaluation_with_a_foreign_key_or_a_number_that_is_none_is_refused(evaluation):
    assert one(written(evaluation, format=2)) == ["history-no-evaluation"]
    assert one(written(evaluation, extra=1)) == ["history-no-evaluation"]
    assert one(written(evaluation).replace(b'"unit": "%"', b'"unit": NaN', 1)) == ["history-no-evaluation"]


def test_a_huge_file_is_refused_unread():
    assert one(b" " * (LARGEST_BYTES + 1)) == ["history-too-large"]


def test_an_evaluation_of_another_method_is_refused(evaluation):
    method = evaluation["protocol"]["method"]
    other = evaluation["protocol"] | {"method": method | {"measurand": "deoxynivalenol"}}
    assert one(written(evaluation, protocol=other)) == ["history-of-another-method"]
    assert one(written(evaluation, protocol={"method": 3})) == ["history-of-another-method"]


def test_a_comparison_of_analysts_is_no_history_of_lots(evaluation):
    assert one(written(evaluation), factor="analyst") == ["history-of-another-kind"]


@pytest.mark.parametrize("percent", [1e-9, 1e9])
def test_a_ratio_that_cannot_be_is_refused(evaluation, percent):
    assert one(written(evaluation, percent=percent)) == ["history-figure-impossible"]


def test_an_evaluation_without_the_comparison_is_refused(evaluation):
    assert one(written(evaluation, studies=[])) == ["history-which-study"]


def test_a_row_of_lots_with_a_gap_or_a_lot_twice_is_refused(evaluation):
    assert one(written(evaluation, "X", "A")) == ["history-broken"]
    assert one(written(evaluation, "C", "B")) == ["history-lot-twice"]


def test_a_file_that_is_refused_gives_no_figure(evaluation):
    columns = pairs()
    columns["lot"] = ["C"] * 10 + ["B"] * 10
    keys = equivalence(new="C", current="B", **history("1.json"))
    assert evaluate(columns, files={"1.json": b"{}"}, **keys).finding("to_validation") is None
