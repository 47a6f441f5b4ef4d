"""What every finding carries, what it does not depend on, and what forbids a verdict."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.working import recompute, recompute_limits
from validate.criteria.judging import judge
from validate.studies.precision.kinds import BY_NAME, HORRATS
from validate.studies.precision.study import STUDY
from validate.studies.precision.tests.precision_bench import (
    DAYS,
    ONE_WAY,
    crossed,
    evaluate,
    grouped,
    nested,
    value,
)
from validate.vocabulary.evaluation import Criterion, StudyResult

LABS = {"kind": "one-way", "outer": {"column": "laboratory", "called": "laboratory"}}
BATCHES = {"kind": "one-way", "outer": {"column": "batch", "called": "batch"}}
UNEQUAL = [(10.1, 10.3, 10.2), (9.6, 9.9), (10.8,), (10.0, 9.7, 9.9, 10.4), (10.4, 10.9)]


def two_factors(seed: int = 7, days: int = 6, runs: int = 2, replicates: int = 2) -> dict[str, list[Any]]:
    rng = np.random.default_rng(seed)
    day, run = rng.normal(0, 1, days), rng.normal(0, 0.8, (days, runs))
    rows = [
        (20 + day[i] + run[i, j] + 0.3 * rng.normal(), str(i), str(j))
        for i in range(days)
        for j in range(runs)
        for _ in range(replicates)
    ]
    results, outer, inner = zip(*rows, strict=True)
    return {"result": list(results), "day": list(outer), "run": list(inner)}


DESIGNS = {
    "one-way": (grouped(DAYS), ONE_WAY),
    "one-way, unequal": (grouped(UNEQUAL), ONE_WAY),
    "laboratories": (grouped(DAYS, "laboratory"), LABS),
    "batches": (grouped(UNEQUAL, "batch"), BATCHES),
    "nested": (two_factors(), nested()),
    "nested, unequal": ({k: v[1:] for k, v in two_factors().items()}, nested()),
    "crossed": (two_factors(), crossed("day", "run")),
    "crossed, incomplete": ({k: v[2:] for k, v in two_factors().items()}, crossed("day", "run")),
}


def every_finding(result: StudyResult) -> dict[str, float]:
    return {finding.name: finding.value for finding in result.findings if finding.value is not None}


@pytest.mark.parametrize("name", DESIGNS)
def test_every_working_gives_its_finding(name: str) -> None:
    columns, design = DESIGNS[name]
    result = evaluate(columns, design, claimed={"s_r": "0.2", "source": "a sheet"}, horrat=list(HORRATS))
    assert all(finding.value is not None for finding in result.findings)
    for finding in result.findings:
        assert recompute(finding.working) == pytest.approx(finding.value, rel=1e-12, abs=1e-15), finding.name


@pytest.mark.parametrize("name", DESIGNS)
def test_limits_recompute_from_what_they_rest_on(name: str) -> None:
    """All but those of one component of an incomplete crossing, which has none."""
    columns, design = DESIGNS[name]
    result = evaluate(columns, design, claimed={"s_r": "0.2", "source": "a sheet"}, horrat=list(HORRATS))
    for finding in result.findings:
        shown = finding.interval("shown")
        if shown is None:
            assert finding.name == "s_between"
            continue
        assert recompute_limits(finding) == pytest.approx((shown.low, shown.high), rel=1e-12), finding.name


@pytest.mark.parametrize("name", DESIGNS)
def test_every_finding_carries_what_a_reader_needs(name: str) -> None:
    columns, design = DESIGNS[name]
    for finding in evaluate(columns, design).findings:
        assert finding.n == len(columns["result"]) and finding.df > 0
        assert finding.formula and finding.source and finding.rows[0].file == "precision.csv"
        uses = [interval.use for interval in finding.intervals]
        if finding.name == "s_between":
            assert uses in (["shown"], []) and finding.sampling is None
            continue
        if name == "crossed, incomplete" and finding.name in ("s_intermediate", "rsd_intermediate"):
            assert uses == ["shown", "not_met"] and "cannot show that a bound is met" in finding.notes[-1]
            continue
        assert uses == ["shown", "met", "not_met"]
        assert [finding.interval(use).level for use in uses] == [0.95, 0.90, pytest.approx(0.90)]
        assert finding.sampling is not None
        for interval in finding.intervals:
            assert interval.low <= finding.value <= interval.high


@pytest.mark.parametrize("name", ["s_intermediate", "rsd_intermediate"])
def test_totals_say_that_no_component_counts_below_zero(name: str) -> None:
    """One-way: MS_within over its term, 1/(1 − 1/n); nested with b runs of n results a day: also 1/(1 − 1/b)."""
    one_way, both = (evaluate(*DESIGNS[design]).finding(name).sampling for design in ("one-way", "nested"))
    assert one_way.floors == pytest.approx((2,))
    assert both.floors == pytest.approx((2, 2)) and len(both.shares) == 3
    unequal = evaluate(*DESIGNS["one-way, unequal"]).finding(name).sampling
    assert unequal.floors == pytest.approx((1 / (1 - 1 / (5 / (1 / 3 + 1 / 2 + 1 + 1 / 4 + 1 / 2))),))


def test_five_results_in_five_groups_are_the_fewest_for_a_verdict() -> None:
    """Where the source of a criterion gives no number; s_r asks for results, the totals for days as well."""

    def verdict(name: str, days: list[tuple[float, ...]]) -> str:
        kind = BY_NAME[name]
        wanted = Criterion(
            kind="criterion", study="precision", finding=name, level=None, low=None, high=20, unit="%",
            wording="at most 20 %", judge_by="estimate", source="a guide", minimum_n=kind.minimum_n,
            minimum_groups=kind.minimum_groups,
        )  # fmt: skip
        return judge(wanted, {"precision": evaluate(grouped(days))}, {"precision": STUDY}).verdict

    assert [verdict("rsd_r", days) for days in (DAYS[:2], [*DAYS[:2], (10.2,)])] == ["not shown", "met"]
    assert [verdict("rsd_intermediate", DAYS[:p]) for p in (4, 5)] == ["not shown", "met"]


def test_a_horrat_below_its_range_is_a_query_and_no_failure() -> None:
    name = "horrat_r-over-PRSD_R_horwitz-aoac"
    wanted = Criterion(
        kind="criterion", study="precision", finding=name, level=None, low=0.3, high=1.3, unit="",
        wording="0.3 to 1.3", judge_by="estimate", source="own",
    )  # fmt: skip
    outcome = judge(wanted, {"precision": evaluate(grouped(DAYS))}, {"precision": STUDY})
    assert outcome.verdict == "met" and "a query" in outcome.query


def test_rows_are_those_that_hold_a_number() -> None:
    result = evaluate(grouped([(1.0, 1.1), ("<0.5", 1.2), (1.3, 1.0)]))
    assert result.finding("s_r").rows[0].ranges == "2-3, 5-7"


@pytest.mark.parametrize(
    ("columns", "design", "given_totals", "word"),
    [
        (grouped(DAYS), ONE_WAY, {"s_intermediate", "rsd_intermediate"}, "intermediate precision"),
        (grouped(DAYS, "laboratory"), LABS, {"s_reproducibility", "rsd_reproducibility", "R"}, "reproducibility"),
        (grouped(DAYS, "batch"), BATCHES, {"s_total", "rsd_total"}, "total spread, that of the material included"),
    ],
)
def test_words_follow_the_outer_factor(
    columns: dict[str, Any], design: dict[str, Any], given_totals: set[str], word: str
) -> None:
    result = evaluate(columns, design, horrat=[])
    always = {"mean", "s_r", "rsd_r", "r", "s_between"}
    assert {finding.name for finding in result.findings} == always | given_totals
    assert result.facts["gives"] == word


def test_days_within_laboratories_give_intermediate_precision_and_reproducibility() -> None:
    columns = two_factors()
    columns["laboratory"] = columns.pop("day")
    columns["day"] = columns.pop("run")
    result = evaluate(columns, nested("laboratory", "day"))
    inner, outer = result.finding("s_intermediate"), result.finding("s_reproducibility")
    assert (inner.groups, outer.groups) == (12, 6)
    assert inner.value < outer.value


def test_limits_take_their_factor_and_the_exact_one_stands_beside() -> None:
    result = evaluate(grouped(DAYS, "laboratory"), LABS)
    s_r, s_reproducibility = value(result, "s_r"), value(result, "s_reproducibility")
    assert value(result, "r") == pytest.approx(2.8 * s_r, rel=1e-14)
    assert value(result, "R") == pytest.approx(2.8 * s_reproducibility, rel=1e-14)
    (table,) = (table for table in result.tables if table.name == "by_level")
    shown = dict(zip((column.title for column in table.columns), table.rows[0], strict=True))
    exact = 1.959963984540054 * math.sqrt(2)
    assert shown["r, factor 1.96·√2"] == pytest.approx(exact * s_r, rel=1e-12)
    assert shown["R, factor 1.96·√2"] == pytest.approx(exact * s_reproducibility, rel=1e-12)


def test_limits_for_not_met_use_the_level_of_all_comparisons_and_never_exceed_mls() -> None:
    one, ten = (evaluate(grouped(DAYS), comparisons=k).finding("s_intermediate") for k in (1, 10))
    assert one.interval("not_met").level == pytest.approx(0.90)
    assert ten.interval("not_met").level == pytest.approx(0.99)
    assert one.interval("not_met").low < one.interval("met").low
    assert ten.interval("not_met").low < one.interval("not_met").low


def test_horrat_of_a_declared_level_takes_the_level_and_says_so() -> None:
    columns = grouped(DAYS) | {"level": ["10"] * 10}
    result = evaluate(columns, ONE_WAY | {"levels": ["10"]})
    finding = result.finding("horrat_r-over-0.66-PRSD_R_horwitz", "10")
    predicted = 2 ** (1 - 0.5 * math.log10(10e-9))
    assert finding.value == pytest.approx(value(result, "rsd_r", "10") / (0.66 * predicted), rel=1e-12)
    assert "the declared level" in finding.formula


@pytest.mark.parametrize(
    ("method", "reason"),
    [({"method_defined": True}, "defined by the method"), ({"mass_fraction_per_unit": None}, "no mass fraction")],
)
def test_horrat_is_refused_where_horwitz_does_not_apply(method: dict[str, Any], reason: str) -> None:
    finding = evaluate(grouped(DAYS), method=method).finding("horrat_r-over-PRSD_R_horwitz-aoac")
    assert finding.value is None and reason in finding.reason


def test_claim_is_compared_by_its_ratio_and_chi_square() -> None:
    result = evaluate(grouped(DAYS), claimed={"s_r": "0.2", "source": "a sheet"})
    finding = result.finding("s_r_to_claim")
    assert finding.value == pytest.approx(math.sqrt(0.0510) / 0.2, rel=1e-12)
    (table,) = (table for table in result.tables if table.name == "claim")
    chi_square, df = table.rows[0][6:8]
    assert (chi_square, df) == (pytest.approx(5 * 0.0510 / 0.04, rel=1e-12), 5)


@pytest.mark.parametrize(
    ("groups", "method", "reason"),
    [
        ([(5.0, 5.0), (6.0, 6.0), (5.5, 5.5)], {}, "standard deviation is 0"),
        ([(5.0, 5.1), (5.2, 5.0), (5.1, 5.1)], {"resolution": 1.0}, "below half the resolution"),
        ([(5.0, 5.1), ("<2", 5.3), (5.4, 5.1)], {}, "below a limit or not detected"),
        ([(5.0, 5.1), ("n.d.", 5.3), (5.4, 5.1)], {}, "below a limit or not detected"),
        ([(0.0, 0.4), (0.9, 1.3), (0.4, 0.1)], {"floor": 0.0}, "floor of the reading"),
    ],
)
def test_figures_that_cannot_carry_a_verdict_are_blocked_with_the_reason(
    groups: list[Any], method: dict[str, Any], reason: str
) -> None:
    result = evaluate(grouped(groups), method=method)
    for name in ("s_r", "rsd_r"):
        assert any(reason in text for text in result.finding(name).blocked), name


def test_an_empty_cell_is_no_censored_result() -> None:
    result = evaluate(grouped([(5.0, 5.1), ("", 5.3), (5.4, "NA", 5.0)]))
    assert result.finding("s_r").blocked == ()
    assert result.finding("s_r").n == 5
    assert any(remark.text == "2 rows hold no result" for remark in result.remarks)


def test_spread_between_fewer_than_five_groups_gets_no_verdict_of_its_own() -> None:
    result = evaluate(grouped(DAYS[:4]))
    assert result.finding("s_between").blocked == ("few levels: 4 days, fewer than 5",)
    assert any("few groups: 4 days" in remark.text for remark in result.remarks)
    assert evaluate(grouped(DAYS)).finding("s_between").blocked == ()


def test_missing_level_and_level_with_one_group_say_why_they_give_nothing() -> None:
    columns = grouped(DAYS) | {"level": ["10"] * 8 + ["20"] * 2}
    result = evaluate(columns, ONE_WAY | {"levels": ["10", "20", "30"]})
    assert result.finding("s_r", "10").value is not None
    assert "1 day, at least 2" in result.finding("s_r", "20").reason
    assert result.finding("s_r", "30").value is None and result.finding("s_r", "30").n == 0
    names = {finding.name for finding in result.findings if finding.level == "10"}
    assert names == {finding.name for finding in result.findings if finding.level == "30"}


def test_a_wild_cell_is_flagged_and_stays_in_the_figures() -> None:
    groups = [*DAYS, (10.2, 10.3), (10.1, 10.2), (8.0, 12.4)]
    result = evaluate(grouped(groups))
    (flag,) = (remark for remark in result.remarks if remark.kind == "flag")
    assert "Cochran" in flag.text and flag.rows == "16-17"
    assert result.finding("s_r").n == 16
    (table,) = (table for table in result.tables if table.name == "flagged")
    (_, _, n_all, _, s_all, _), (_, words, n_without, _, s_without, _) = table.rows
    assert (n_all, n_without, words) == (16, 14, "without rows 16-17") and s_without < s_all


def test_three_levels_are_described_by_the_three_forms() -> None:
    shift = {"1": 0.1, "10": 1.0, "100": 10.0}
    columns: dict[str, list[Any]] = {"result": [], "day": [], "level": []}
    for level, factor in shift.items():
        part = grouped([[x * factor for x in day] for day in DAYS])
        columns["result"] += part["result"]
        columns["day"] += part["day"]
        columns["level"] += [level] * 10
    result = evaluate(columns, ONE_WAY | {"levels": list(shift)})
    (table,) = (table for table in result.tables if table.name == "forms")
    power = next(row for row in table.rows if row[1].startswith("III"))
    assert power[3] == pytest.approx(1.0, abs=1e-9)
    assert [plot.name for plot in result.plots][-1] == "levels"


def test_more_than_two_thousand_results_are_drawn_in_classes() -> None:
    rng = np.random.default_rng(20310303)
    columns = {"result": rng.normal(10, 1, 3000).tolist(), "day": [str(i % 30) for i in range(3000)]}
    result = evaluate(columns)
    points = [len(layer.x) for plot in result.plots for layer in plot.layers if hasattr(layer, "x")]
    assert max(points) <= 2000


def test_every_finding_is_a_declared_one_and_carries_its_unit() -> None:
    for columns, design in DESIGNS.values():
        for finding in evaluate(columns, design).findings:
            declared = BY_NAME[finding.name].unit
            assert finding.unit == ("µg/kg" if declared == "method" else declared)


results = st.lists(
    st.lists(st.floats(1, 100, allow_nan=False).map(lambda x: round(x, 3)), min_size=2, max_size=4),
    min_size=2,
    max_size=7,
).filter(lambda groups: len({x for g in groups for x in g}) > 3 and any(len(set(g)) > 1 for g in groups))


@settings(max_examples=25, deadline=None, derandomize=True)
@given(results, st.randoms(use_true_random=False))
def test_order_of_rows_and_names_of_groups_do_not_matter(groups: list[list[float]], random: Any) -> None:
    columns = grouped(groups)
    order = list(range(len(columns["result"])))
    random.shuffle(order)
    shuffled = {
        "result": [columns["result"][i] for i in order],
        "day": [f"day {columns['day'][i]}" for i in order],
    }
    assert every_finding(evaluate(shuffled)) == pytest.approx(every_finding(evaluate(columns)), rel=1e-9, abs=1e-9)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(results, st.sampled_from([0.001, 7.0, 1000.0]), st.sampled_from([0.0, 50.0, 1000.0]))
def test_scatter_scales_with_the_unit_and_ignores_a_shift(
    groups: list[list[float]], scale: float, shift: float
) -> None:
    plain = every_finding(evaluate(grouped(groups), horrat=[]))
    moved = every_finding(evaluate(grouped([[scale * x + shift for x in g] for g in groups]), horrat=[]))
    for name in ("s_r", "s_between", "s_intermediate", "r"):
        assert moved[name] == pytest.approx(scale * plain[name], rel=1e-6, abs=1e-6 * scale * plain["s_r"]), name
    assert moved["mean"] == pytest.approx(scale * plain["mean"] + shift, rel=1e-12)


def test_an_incomplete_crossing_cannot_be_met_by_the_interval() -> None:
    """Its upper limit is missed too often; the figure and its limits are still shown."""
    generous = Criterion(
        kind="criterion", study="precision", finding="s_intermediate", level=None, low=None, high=1000, unit="µg/kg",
        wording="at most 1000 µg/kg", judge_by="interval", source="own",
    )  # fmt: skip
    complete, incomplete = (
        judge(generous, {"precision": evaluate(*DESIGNS[name])}, {"precision": STUDY})
        for name in ("crossed", "crossed, incomplete")
    )
    assert (complete.verdict, incomplete.verdict) == ("met", "not shown")
    assert "not every combination was measured and repeated" in incomplete.reason
