"""Bad tables of a round through the command line: each ends in a message with its place, none in a traceback."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from validate.cli import INPUT_REFUSED
from validate.studies.proficiency_round.codes import odd_scripts
from validate.studies.proficiency_round.tests.round_bench import USUAL, long_table, problems, written

X = {f"L{i:02d}": [100 + (i * 7) % 11] for i in range(1, 21)}
WIDE = USUAL.replace("samples: [A]", "samples: [A]\n    layout: wide")


def checked(folder: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "validate", "check", str(folder)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


CASES = {
    "a laboratory twice": (
        long_table(X) + "L03,A,99\n", USUAL,
        "results.csv:22:1  laboratory L03, sample A stands in the table twice",
    ),
    "an unknown unit": (
        "laboratory,sample,result,unit\nL1,A,5,\nL2,A,6,stone\n", USUAL,
        'results.csv:3:4  unit "stone" cannot be converted to µg/kg',
    ),
    "no σ_pt": (
        long_table(X), "    samples: [A]\n    assigned_value: {by: algorithm A}\n",
        'protocol.yaml:11:3  the key "sigma_pt" is missing in study "round"',
    ),
    "only censored results": (
        long_table({code: ["<5"] for code in X}), USUAL,
        "results.csv:2:3  no laboratory reports a number",
    ),
    "one laboratory": (
        long_table({"L1": [5]}), USUAL,
        'results.csv:2:1  only laboratory "L1" is in the table: that is no round',
    ),
    "NaN": (long_table({**X, "L03": ["NaN"]}), USUAL, 'results.csv:4:3  "NaN" in column "result" is not a finite'),
    "infinity": (long_table({**X, "L03": ["-inf"]}), USUAL, 'results.csv:4:3  "-inf" in column "result" is not a fin'),
    "beyond doubles": (long_table({**X, "L03": ["1e400"]}), USUAL, 'results.csv:4:3  "1e400" in column "result" is n'),
    "infinite uncertainty": (
        "laboratory,sample,result,uncertainty\nL1,A,5,1\nL2,A,6,inf\n", USUAL,
        'results.csv:3:4  "inf" in column "uncertainty" is not a finite number',
    ),
    "a very long code": (
        long_table({**X, "L" * 300: [5]}), USUAL, "results.csv:22:1  code ",
    ),
    "a wide table with an unknown unit": (
        "laboratory,A,unit\nL1,5,\nL2,6,stone\n", WIDE, 'results.csv:3:3  unit "stone" cannot be converted to µg/kg',
    ),
    "a wide table without a target": (
        "laboratory,B\nL1,5\nL2,6\n", WIDE, "a wide table has a column for each target, and there is none of: A",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_a_bad_table_is_refused_with_row_and_column(tmp_path, case):
    table, settings, message = CASES[case]
    run = checked(written(tmp_path, table, settings))
    assert message in run.stderr
    assert "Traceback" not in run.stderr
    assert run.returncode == INPUT_REFUSED


def test_results_that_are_all_equal_are_told_with_the_first_of_them(tmp_path):
    run = checked(written(tmp_path, long_table({code: [7] for code in X})))
    assert "results.csv:2:3  every result is 7" in run.stderr
    assert run.returncode == 0


@pytest.mark.parametrize(("codes", "message"), [
    (("a1", "A1"), '"A1" in column "laboratory" differs from "a1" only in capitals, spaces or the form of signs'),
    (("\u00e91", "e\u03011"), "only in capitals, spaces or the form of signs"),
    (("A1", "\u04101"), '"\u04101" is in Cyrillic letters, unlike most codes'),
])  # fmt: skip
def test_codes_that_are_easily_taken_for_one_another_are_told(tmp_path, codes, message):
    told = problems(written(tmp_path, long_table({**X, codes[0]: [99], codes[1]: [98]})))
    assert any(message in text and "results.csv:23:1" in text for text in told.values())


def test_a_round_in_one_script_alone_has_no_odd_codes():
    assert odd_scripts(["\u04101", "\u04112", "17"]) == {}
    assert odd_scripts(["A1", "B2", "17"]) == {}
    assert odd_scripts(["A1", "B2", "A\u0410"]) == {"A\u0410": "Cyrillic and Latin"}


def test_of_many_unknown_units_some_are_told(tmp_path):
    table = "laboratory,A,unit\n" + "".join(f"L{i},{i + 1},stone\n" for i in range(3_000))
    told = [problem for problem in checked(written(tmp_path, table, WIDE)).stderr.splitlines() if "stone" in problem]
    assert len(told) == 20
