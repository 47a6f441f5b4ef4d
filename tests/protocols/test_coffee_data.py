"""The invented data of the coffee demo are what their generator makes."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest

COFFEE = Path(__file__).parents[2] / "protocols" / "coffee"


@pytest.mark.parametrize("name", ["recovery.csv", "native.csv", "runs.csv", "standards.csv", "low.csv"])
def test_generator_makes_the_tables_that_are_shipped(name: str, tmp_path: Path) -> None:
    generator = runpy.run_path(str(COFFEE / "generate.py"))
    generator["main"].__globals__["FOLDER"] = tmp_path
    generator["main"]()
    assert (tmp_path / name).read_bytes() == (COFFEE / name).read_bytes()


def test_demo_says_that_it_is_invented() -> None:
    assert "data: invented" in (COFFEE / "protocol.yaml").read_text(encoding="utf-8")
    assert (COFFEE / "SOURCE").read_text(encoding="utf-8").startswith("Invented data.")
