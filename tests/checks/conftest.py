"""A copy of the package, to be run as if it were installed, and to be broken."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import validate

PACKAGE = Path(validate.__file__).parent
Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture
def copied(tmp_path) -> Path:
    """The package folder of a copy."""
    place = tmp_path / "site" / "validate"
    shutil.copytree(PACKAGE, place, ignore=shutil.ignore_patterns("__pycache__", "tests"))
    return place


@pytest.fixture
def run_copy(copied, tmp_path) -> Run:
    """Run the command of the copy in a folder of its own; byte code is not kept."""

    def run(*arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-B", "-m", "validate", *arguments],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(copied.parent)},
            capture_output=True,
            text=True,
            timeout=120,
        )

    return run


@pytest.fixture
def break_copy(copied) -> Callable[[str, str, str], None]:
    """Replace a text that stands once in a file of the copy."""

    def change(file: str, old: str, new: str) -> None:
        place = copied / file
        text = place.read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {file}"
        place.write_text(text.replace(old, new), encoding="utf-8")

    return change
