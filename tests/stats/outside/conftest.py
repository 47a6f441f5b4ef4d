"""Reading reference data: tests/data, certified sets of validate/checks; counting digits that agree."""

from __future__ import annotations

import csv
import math
import tomllib
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from validate.checks.loading import FOLDER, set_rows

DATA = Path(__file__).parents[2] / "data"


def _digits_agreed(obtained: float, wanted: str | float) -> float:
    """Log relative error: correct decimal digits, at most 15; absolute where 0 is wanted."""
    target = float(wanted)
    difference = abs(obtained - target)
    if difference == 0:
        return 15.0
    return min(15.0, -math.log10(difference / abs(target) if target else difference))


@lru_cache
def _toml(name: str) -> dict[str, Any]:
    return tomllib.loads((DATA / name).read_text(encoding="utf-8"))


@lru_cache
def _rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@lru_cache
def _certified_file(name: str) -> dict[str, Any]:
    return tomllib.loads((FOLDER / name).read_text(encoding="utf-8"))


def _certified(file: str, name: str) -> tuple[list[dict[str, str]], dict[str, Any]]:
    """Rows of a certified set that ships with the package, and its certified figures as text."""
    entry = _certified_file(file)
    cases = [case for case in entry["case"] if case["set"] == name]
    figures: dict[str, Any] = {key: text for case in cases for key, text in case["expected"].items()}
    figures["attainable_digits"] = min(case["attainable_digits"] for case in cases)
    return set_rows(entry["set"][name]), figures


@pytest.fixture(scope="session")
def digits_agreed() -> Callable[[float, str | float], float]:
    return _digits_agreed


@pytest.fixture(scope="session")
def reference() -> Callable[[str], dict[str, Any]]:
    """Expected values: a TOML file of tests/data by its name."""
    return _toml


@pytest.fixture(scope="session")
def rows() -> Callable[[str], list[dict[str, str]]]:
    """Rows of a CSV file of tests/data by its name, all cells as text."""
    return _rows


@pytest.fixture(scope="session")
def univariate() -> Callable[[str], tuple[list[str], dict[str, Any]]]:
    """Values as printed, and certified figures, of one NIST univariate set."""

    def read(name: str) -> tuple[list[str], dict[str, Any]]:
        table, figures = _certified("nist_univariate.toml", name)
        return [row["value"] for row in table], figures

    return read


@pytest.fixture(scope="session")
def one_way_set() -> Callable[[str], tuple[list[list[str]], dict[str, Any]]]:
    """Groups of values as printed, and certified figures, of one NIST one-way set."""

    def read(name: str) -> tuple[list[list[str]], dict[str, Any]]:
        table, figures = _certified("nist_one_way.toml", name)
        groups: dict[str, list[str]] = {}
        for row in table:
            groups.setdefault(row["group"], []).append(row["value"])
        return list(groups.values()), figures

    return read


@pytest.fixture(scope="session")
def straight_line() -> Callable[[str], tuple[list[str], list[str], dict[str, Any]]]:
    """x and y as printed, and certified figures, of one NIST straight line."""

    def read(name: str) -> tuple[list[str], list[str], dict[str, Any]]:
        table, figures = _certified("nist_straight_line.toml", name)
        return [row["x"] for row in table], [row["y"] for row in table], figures

    return read
