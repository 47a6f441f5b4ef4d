"""A protocol with one study, its rules on readiness, a run log and results: written, read, judged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from textwrap import dedent, indent

import pytest

from validate.pipeline import Prepared, prepare

PROTOCOL = """\
format: 1
id: READY-01
title: Readiness by hand-made logs
issued: 2031-03-03
origin: {{data: invented, statement: Invented for this test.}}
laboratory: Example laboratory (fictional)
purpose: verification
intended_use: quantitative
method: {{measurand: deoxynivalenol, matrix: wheat, unit: µg/kg}}
{extra}
readiness:
{rules}
runs: {runs}
studies:
  spread:
    kind: precision
    data: {{file: results.csv}}
    design: {{kind: one-way, outer: {{column: day, called: day}}, groups: 2, replicates: 2}}
"""


@dataclass(frozen=True)
class Judged:
    prepared: Prepared

    @property
    def result(self):
        return self.prepared.readiness

    @property
    def codes(self) -> list[str]:
        return [problem.code for problem in self.prepared.problems]

    def told(self, code: str) -> str:
        [problem] = [problem for problem in self.prepared.problems if problem.code == code]
        return str(problem).replace(f"{self.prepared.loaded.folder.as_posix()}/", "")

    @property
    def states(self) -> dict[str, str]:
        """Run → state."""
        return {run.run: run.state for run in self.result.runs}

    @property
    def reasons(self) -> dict[str, str]:
        """Run → why, of a single exception."""
        return {item.run: item.reason for item in self.result.exceptions}

    @property
    def reported(self) -> list[int]:
        """File rows as reported."""
        return self.prepared.readings["spread"].reported.frame.index.tolist()

    @property
    def counts(self) -> tuple[int, int, int]:
        """Results ready, not ready, and those that cannot be told."""
        [table] = self.result.tables
        return table.ready, table.not_ready, table.cannot_be_told


@pytest.fixture
def judge(tmp_path: Path) -> Callable[..., Judged]:
    """`judge(rules, log, results)`: each the text of its part; results default to two for each run of the log."""

    def judging(rules: str, log: str, results: str | None = None, *, runs: str = "runs.csv", extra: str = "") -> Judged:
        text = PROTOCOL.format(rules=indent(dedent(rules).strip(), "  "), runs=runs, extra=dedent(extra).strip())
        (tmp_path / "protocol.yaml").write_text(text, encoding="utf-8")
        log = dedent(log).strip() + "\n"
        (tmp_path / "runs.csv").write_text(log, encoding="utf-8")
        (tmp_path / "results.csv").write_text(
            results_for(log) if results is None else dedent(results).strip() + "\n", encoding="utf-8"
        )
        return Judged(prepare(tmp_path))

    return judging


def results_for(log: str) -> str:
    names = [line.split(",")[0] for line in log.splitlines()[1:]]
    rows = [f"d{i},{name},{900 + 10 * i + j}" for i, name in enumerate(names) for j in range(2)]
    return "day,run,result\n" + "\n".join(rows) + "\n"
