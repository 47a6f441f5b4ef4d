"""How large a round may be: what is beyond the bound is refused with the bound, and what is within stays small."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from validate.studies.proficiency_round.checking import MOST_LABORATORIES, MOST_SCORES
from validate.studies.proficiency_round.tests.round_bench import USUAL, long_table, problems, written

MILLION = 1_000_000


def test_more_laboratories_than_the_bound_are_refused_with_the_bound(tmp_path):
    most = long_table({f"L{i}": [i % 97 + 1] for i in range(MOST_LABORATORIES)})
    assert "round-too-many-laboratories" not in problems(written(tmp_path, most))
    told = problems(written(tmp_path, most + "LX,A,5\n"))["round-too-many-laboratories"]
    assert "results.csv:2:1  5,001 laboratories found, at most 5,000 in one round" in told


def test_more_scores_than_the_bound_are_refused_with_the_bound(tmp_path):
    targets = MOST_SCORES // 2_000
    table = long_table({f"L{i}": [i % 97 + 1] for i in range(2_000)}, "S0")

    def of(count: int) -> str:
        return USUAL.replace("[A]", str([f"S{i}" for i in range(count)]).replace("'", ""))

    assert "round-too-many-scores" not in problems(written(tmp_path, table, of(targets)))
    told = problems(written(tmp_path, table, of(targets + 1)))["round-too-many-scores"]
    assert "2,000 laboratories × 101 targets are 202,000 scores, at most 200,000 in one round" in told


def run(folder: Path, code: str) -> tuple[str, float]:
    """What a process of its own says, and its peak memory in MB."""
    peak = "import resource; print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)"
    command = [sys.executable, "-c", f"{code}\n{peak}", str(folder)]
    environment = {**os.environ, "PYTHONIOENCODING": "utf-8"}
    said = subprocess.run(command, capture_output=True, text=True, check=True, timeout=300, env=environment).stdout
    return said, float(said.split()[-1])


CHECK = """import sys
from pathlib import Path
from validate.pipeline import prepare
for problem in prepare(Path(sys.argv[1])).problems:
    print(problem)"""
EVALUATE = """import sys
from pathlib import Path
from validate.pipeline import evaluate, prepare
table = next(t for t in evaluate(prepare(Path(sys.argv[1]))).studies[0].as_reported.tables if t.name == "scores")
print("scores:", len(table.rows))"""


@pytest.mark.slow
def test_a_million_laboratories_are_refused_in_bounded_memory(tmp_path):
    table = "laboratory,sample,result\n" + "".join(f"L{i},A,{i % 97 + 1}\n" for i in range(MILLION))
    said, megabytes = run(written(tmp_path, table), CHECK)
    assert "1,000,000 laboratories found, at most 5,000 in one round" in said
    assert megabytes < 1500


@pytest.mark.slow
def test_a_million_bad_cells_end_in_a_page_of_messages(tmp_path):
    table = "laboratory,sample,result\n" + "".join(f"L{i % 2000},A,abc\n" for i in range(MILLION))
    said, megabytes = run(written(tmp_path, table), CHECK)
    assert 'results.csv:2:3  "abc" in column "result" is not a number' in said
    assert len(said.splitlines()) < 200
    assert megabytes < 1500


@pytest.mark.slow
def test_a_million_rows_of_replicates_within_the_bound_are_evaluated(tmp_path):
    """2,000 laboratories × 100 samples × 5 replicates."""
    rows = (
        f"L{i},S{s},{r},{100 + (7 * i + 3 * s + r) % 31}" for i in range(2000) for s in range(100) for r in range(5)
    )
    settings = USUAL.replace("[A]", str([f"S{i}" for i in range(100)]).replace("'", ""))
    table = "laboratory,sample,replicate,result\n" + "\n".join(rows) + "\n"
    said, megabytes = run(written(tmp_path, table, settings), EVALUATE)
    assert re.search(r"^scores: 200000$", said, re.MULTILINE)
    assert megabytes < 1500
