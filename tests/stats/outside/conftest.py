"""Reading the reference data in tests/data, and counting digits that agree."""

from __future__ import annotations

import csv
import math
import tomllib
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

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


def _unpack(leading: str, digits: str) -> list[str]:
    """`1.` and `4 35*2` as 1.4, 1.3, 1.5, 1.3, 1.5 (see tests/data/SOURCE.md)."""
    pieces = (piece.partition("*") for piece in digits.split())
    run = "".join(piece * int(times or 1) for piece, _, times in pieces)
    return [leading + digit for digit in run]


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
        entry = _toml("certified/univariate.toml")[name]
        if "values" in entry:
            return entry["values"].split(), entry
        return _unpack(entry["leading"], entry["digits"]), entry

    return read


@pytest.fixture(scope="session")
def one_way_set() -> Callable[[str], tuple[list[list[str]], dict[str, Any]]]:
    """Groups of values as printed, and certified figures, of one NIST one-way set."""

    def read(name: str) -> tuple[list[list[str]], dict[str, Any]]:
        file = _toml("certified/one_way.toml")
        entry = file[name]
        if "groups" in entry:
            return [group.split() for group in entry["groups"]], entry
        packed = file["digits"][entry["digits"]]
        return [_unpack(entry["leading"], digits) for digits in packed], entry

    return read
