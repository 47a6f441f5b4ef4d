"""Settings and tables that are wrong end in messages that say how to mend them, never in a traceback."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from validate.studies.method_comparison.tests import comparison_bench as bench
from validate.studies.method_comparison.tests.comparison_bench import X, Y, evaluate, own, problems
from validate.vocabulary.problem import ERROR, NOTICE


def test_a_good_comparison_has_no_problem():
    assert problems(levels=["50"]) == {}


@pytest.mark.parametrize(
    ("keys", "code", "severity"),
    [
        ({}, "no-levels", NOTICE),
        ({"design": {"samples": "12"}}, "few-samples", NOTICE),
        ({"accept": own("ratio_upper", at_most="1.2")}, "other-form", ERROR),
        ({"accept": own("alike_above", at_least="90")}, "no-limit", ERROR),
        ({"levels": ["50"], "accept": own("method_bias_percent", at_most="10")}, "one-sided", NOTICE),
        ({"design": {"samples": "40"}}, "fewer-than-planned", NOTICE),
    ],
)
def test_settings_that_do_not_fit_are_told(keys, code, severity):
    assert problems(**keys)[code].severity == severity


@pytest.mark.parametrize(
    ("reference", "found", "code"),
    [
        ([5.0] * 24, Y, "all-the-same"),
        (X, X, "same-column"),
        (["NA"] * 24, ["<2"] * 24, "no-numbers"),
        ([*X[:23], "NA"], Y, "alone"),
    ],
)
def test_tables_that_cannot_be_compared_are_told(reference, found, code):
    assert code in problems(reference, found)


def test_a_sample_of_one_method_is_named_at_its_cell():
    problem = problems([*X[:23], "NA"], Y)["alone"]
    assert str(problem.place) == "25:reference" and "S24" in problem.message


def test_zero_has_no_ratio_and_says_how_to_mend():
    problem = problems([0.0, *X[1:]], Y, differences="ratio")["zero"]
    assert str(problem.place) == "2:reference" and "<2" in problem.mend
    assert "zero" not in problems([0.0, *X[1:]], Y)


@pytest.mark.parametrize(
    "keys",
    [
        {"line": {"by": "Deming"}},
        {"line": {"by": "Deming", "variance_ratio": "0"}},
        {"levels": ["0"]},
        {"levels": ["5", "5"]},
        {"design": {"samples": "0"}},
        {"line": {"by": "least squares"}},
    ],
)
def test_settings_without_a_sense_are_refused(keys):
    with pytest.raises(ValidationError):
        bench.settings(**keys)


SIZES = st.floats(1e-30, 1e30)
READING = st.one_of(st.floats(1, 100), SIZES, st.sampled_from(["NA", "", "<1", "n.d.", 0.0, 1.0, 5.0]))
WAYS: list[dict[str, Any]] = [
    {},
    {"line": {"by": "Passing-Bablok"}},
    {"line": {"by": "Passing-Bablok", "errors": "proportional"}, "differences": "ratio"},
    {"line": {"by": "Deming", "variance_ratio": "1", "errors": "proportional"}, "differences": "ratio"},
]


@settings(max_examples=100, deadline=None)
@given(
    reference=st.lists(READING, min_size=13, max_size=13),
    found=st.lists(READING, min_size=13, max_size=13),
    way=st.sampled_from(WAYS),
    names=st.lists(st.sampled_from("abcdefghijkl"), min_size=13, max_size=13),
)
def test_whatever_passes_the_check_is_evaluated(reference, found, way, names):
    keys = {"levels": ["5"], "method": {"limit": 5.0}, "columns": {"sample": names}, **way}
    if any(problem.severity == ERROR for problem in problems(reference, found, **keys).values()):
        return
    result = evaluate(reference, found, **keys)
    assert all(finding.value is not None or finding.reason for finding in result.findings)
