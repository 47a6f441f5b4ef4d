"""Settings and tables that are wrong end in messages that say how to mend them, never in a traceback."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from validate.studies.control_chart.tests import control_bench as bench
from validate.studies.control_chart.tests.control_bench import STEADY, evaluate, own, problems
from validate.vocabulary.problem import ERROR, NOTICE

DAYS = [f"2031-01-{1 + i % 28:02d}" for i in range(40)]


def test_a_good_record_has_no_problem():
    assert problems(columns={"lot": ["A"] * 20 + ["B"] * 20}) == {}


@pytest.mark.parametrize(
    ("keys", "code", "severity"),
    [
        ({"limits": {"from": "certified value", "material": "no such", "sd": "5"}}, "no-value", ERROR),
        ({"limits": {"from": "base period", "base": {"runs": "5"}}}, "short-base", NOTICE),
        ({"limits": {"from": "base period", "base": {"runs": "40"}}}, "base-is-all", NOTICE),
        ({"limits": {"from": "base period", "base": {"runs": "1"}}}, "empty-base", ERROR),
        ({"limits": {"from": "base period", "base": {"until": "2031-01-10"}}}, "base-without-dates", ERROR),
        ({"chart": "mean and range"}, "no-replicates", ERROR),
        ({"revalidate": {"drift": {"on": "CUSUM"}}}, "trigger-without-chart", ERROR),
        ({"revalidate": {"drift": {"on": "trend of six"}}}, "trigger-without-rule", ERROR),
        ({"accept": own("revalidation_triggers", at_most="0")}, "no-triggers", ERROR),
        ({"accept": own("bias", between=["-5", "5"])}, "bias-without-value", ERROR),
        ({"columns": {"date": DAYS}}, "out-of-order", NOTICE),
        ({"columns": {"date": [*DAYS[:5], "", *DAYS[6:]]}}, "without-day", ERROR),
        ({"level": "10"}, "far-from-level", NOTICE),
        ({"revalidate": {"drift": {"after_change_of": "instrument", "within_runs": "5"}}}, "trigger-unrecorded", ERROR),
        ({"design": {"runs": "60"}}, "fewer-than-planned", NOTICE),
        ({"columns": {"run": ["R1", "R1", *[f"R{i}" for i in range(3, 41)]], "lot": ["A", "B", *["B"] * 38]}},
         "two-in-one-run", ERROR),
        ({"chart": "mean and range", "design": {"runs": "20", "replicates": "2"},
          "columns": {"run": [f"R{i // 2}" for i in range(39)] + ["R99"]}}, "unequal-runs", ERROR),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_told(keys, code, severity):
    assert problems(**keys)[code].severity == severity


def test_a_record_without_numbers_or_without_change_is_told():
    assert "few-runs" in problems(["NA"] * 10)
    assert "all-the-same" in problems([5.0] * 30)


def test_the_second_lot_of_one_run_is_pointed_at():
    columns = {"run": ["R1", "R1", *[f"R{i}" for i in range(3, 41)]], "lot": ["A", "B", *["B"] * 38]}
    problem = problems(columns=columns)["two-in-one-run"]
    assert str(problem.place) == "3:lot" and "A and B" in problem.message


@pytest.mark.parametrize(
    "keys",
    [
        {"rules": []},
        {"rules": ["beyond the moon"]},
        {"rules": ["run of seven", "run of seven"]},
        {"level": "0"},
        {"limits": {"from": "base period"}},
        {"limits": {"from": "certified value", "sd": "5"}},
        {"limits": {"from": "certified value", "material": "CRM"}},
        {"limits": {"from": "base period", "base": {"runs": "20", "until": "2031-01-01"}}},
        {"ewma": {"weight": "1.5"}},
        {"revalidate": {"x": {"times": "3", "within_runs": "2"}}},
        {"revalidate": {"x": {"after_change_of": "lot"}}},
    ],
)
def test_settings_without_a_sense_are_refused(keys):
    with pytest.raises(ValidationError):
        bench.settings(**keys)


READING = st.one_of(
    st.floats(90, 110), st.floats(1e-30, 1e30), st.sampled_from(["NA", "", "<1", "n.d.", 0.0, 100.0, -5.0])
)
WAYS: list[dict[str, Any]] = [
    {},
    {"ewma": {}, "cusum": {}, "revalidate": {"a": {"times": "2", "within_runs": "5"}}},
    {"limits": {"from": "certified value", "material": "CRM", "sd": "5"}, "level": "100"},
    {"chart": "mean and range", "design": {"runs": "5", "replicates": "2"},
     "limits": {"from": "base period", "base": {"runs": "3"}, "spread": "within runs"}},
]  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(
    values=st.lists(READING, min_size=12, max_size=12),
    runs=st.lists(st.sampled_from("abcdef"), min_size=12, max_size=12),
    lots=st.dictionaries(st.sampled_from("abcdef"), st.sampled_from(["L1", "L2", ""])),
    way=st.sampled_from(WAYS),
)
def test_whatever_passes_the_check_is_evaluated(values, runs, lots, way):
    keys = {"columns": {"run": runs, "lot": [lots.get(run, "L1") for run in runs]}, **way}
    if any(problem.severity == ERROR for problem in problems(values, **keys).values()):
        return
    result = evaluate(values, **keys)
    assert all(finding.value is not None or finding.reason for finding in result.findings)


def test_steady_runs_in_another_order_of_rows_with_days_give_the_same_record():
    days = [f"2031-{1 + i // 28:02d}-{1 + i % 28:02d}" for i in range(40)]
    order = list(range(39, -1, -1))
    columns = {"run": [f"R{i + 1}" for i in order], "date": [days[i] for i in order]}
    there, back = evaluate(columns={"date": days}), evaluate([STEADY[i] for i in order], columns=columns)
    assert [f.value for f in there.findings] == [f.value for f in back.findings]
