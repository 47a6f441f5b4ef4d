"""The step at work and a bar over participants' pages: on a terminal, and nowhere else."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

from validate.studies.proficiency_round.tests.round_bench import long_table, written

LABORATORIES = 12


def command(folder: Path) -> list[str]:
    return [sys.executable, "-m", "validate", "dossier", str(folder), "--out", str(folder / "out"), "--no-pdf"]


@pytest.fixture
def round_folder(tmp_path: Path) -> Path:
    return written(tmp_path, long_table({f"L{i:02d}": [100 + i] for i in range(LABORATORIES)}))


def test_a_terminal_shows_a_bar_that_fills_page_by_page(round_folder: Path) -> None:
    ours, theirs = pty.openpty()
    with subprocess.Popen(command(round_folder), stdout=subprocess.PIPE, stderr=theirs) as process:
        os.close(theirs)
        shown = _all_of(ours)
        said = process.stdout.read().decode()
    steps = [text.strip("… ") for text in shown.split("\r\x1b[2K")]
    assert "setting page 1 of 12 [#...................]" in steps
    assert f"setting page 12 of 12 [{'#' * 20}]" in steps
    assert steps.index("setting page 12 of 12 [####################]") > steps.index("drawing the dossier")
    assert "setting page" not in said


def test_a_pipe_gets_no_bar(round_folder: Path) -> None:
    run = subprocess.run(command(round_folder), capture_output=True, text=True, check=True)
    assert "setting page" not in run.stderr + run.stdout
    assert "\x1b" not in run.stderr + run.stdout


def _all_of(terminal: int) -> str:
    """What was written to the terminal until its last writer left."""
    parts = []
    while True:
        try:
            part = os.read(terminal, 65_536)
        except OSError:
            break
        if not part:
            break
        parts.append(part)
    os.close(terminal)
    return b"".join(parts).decode()
