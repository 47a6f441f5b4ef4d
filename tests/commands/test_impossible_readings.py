"""Readings that cannot be are named at their cell, whatever the study."""

import shutil
from pathlib import Path

import pytest

from validate.pipeline import prepare

EXAMPLE = Path(__file__).parents[2] / "validate" / "studies" / "recovery" / "example"
AMENDED = """
amendments:
  - data: recovery.csv
    where: {sample: 1}
    column: found
    old: -951
    new: 951
    by: A. Example
    on: 2031-02-13
    reason: The minus sign is not on the print-out.
"""


@pytest.fixture
def told(tmp_path):
    """Problems by code when the first result is `first` µg/kg."""

    def check(reading: str, more: str = "", first: str = "-951") -> dict[str, str]:
        shutil.copytree(EXAMPLE, tmp_path / "example")
        table, protocol = tmp_path / "example" / "recovery.csv", tmp_path / "example" / "protocol.yaml"
        table.write_text(table.read_text("utf-8").replace(",951", f",{first}"), "utf-8")
        text = protocol.read_text("utf-8").replace("reading: {resolution: 1}", f"reading: {reading}")
        protocol.write_text(text + more, "utf-8")
        return {problem.code: str(problem) for problem in prepare(tmp_path / "example").problems}

    return check


def test_a_result_below_the_declared_floor_is_an_error_at_its_cell(told):
    problems = told("{resolution: 1, floor: 0}")
    assert "recovery.csv:2:4  -951 µg/kg lies below the floor of the reading" in problems["content-below-floor"]
    assert "content-negative" not in problems


def test_a_negative_content_without_a_declared_floor_is_told(told):
    problems = told("{resolution: 1}")
    assert "recovery.csv:2:4  -951 µg/kg is less than nothing" in problems["content-negative"]
    assert "content-below-floor" not in problems


def test_an_amended_reading_is_looked_at_as_amended(told):
    assert "content-below-floor" not in told("{resolution: 1, floor: 0}", AMENDED)


def test_a_reading_at_its_floor_is_possible(told):
    assert "content-below-floor" not in told("{resolution: 1, floor: 880}", first="880")
