"""The protocols that the benchmarks time, in small: a change of a key breaks a test and not a timing."""

import pytest

from tests.benchmarks.rounds import large_round
from tests.benchmarks.run import large_protocol, year_of_runs
from validate.pipeline import evaluate, prepare

TIMED = {
    "recovery": lambda folder: large_protocol(folder, 1_000),
    "readiness": lambda folder: year_of_runs(folder, 200, 20),
    "round": lambda folder: large_round(folder, 20, 2),
}


@pytest.mark.parametrize("name", TIMED)
def test_a_timed_protocol_is_evaluated_with_a_value_for_most_findings(name, tmp_path):
    evaluation = evaluate(prepare(TIMED[name](tmp_path)))
    findings = [finding for study in evaluation.studies for finding in study.as_reported.findings]
    assert sum(finding.value is not None for finding in findings) > len(findings) / 2
