"""Read the check values that ship with the package."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from validate.vocabulary.check import Case, Check, Deviation

FOLDER = Path(__file__).parent

Rows = list[dict[str, str]]


@lru_cache(maxsize=1)
def checks() -> tuple[Check, ...]:
    """All checks that ship with the package, in alphabetical order of their files."""
    return tuple(read_check(path) for path in sorted(FOLDER.glob("*.toml")))


def read_check(path: Path) -> Check:
    """The check in one TOML file; raises TypeError on a missing or unknown key."""
    entry = tomllib.loads(path.read_text(encoding="utf-8"))
    rows = _rows(path.parent / entry["data"]) if "data" in entry else []
    sets = {name: set_rows(columns) for name, columns in entry.pop("set", {}).items()}
    singles = [_case(case, sets[case["set"]] if "set" in case else rows) for case in entry.pop("case", ())]
    tabled = [case for table in entry.pop("table", ()) for case in _cases_of(table)]
    deviations = tuple(Deviation(**each) for each in entry.pop("deviation", ()))
    notes = tuple(entry.pop("notes", ()))
    return Check(**entry, notes=notes, cases=tuple(singles + tabled), deviations=deviations)


def set_rows(columns: Mapping[str, Any]) -> Rows:
    """The rows of a data set that stands in the file itself, its numbers as printed.

    `groups = ["1.2 1.4", "1.1 1.3"]` gives the columns `value` and `group`; `digits`, one
    text or one for each group, holds the last digit of each value, to be read after
    `leading` (`13*2` is 1, 3, 1, 3). Any other key is a column of white-space separated texts.
    """
    if "digits" in columns:
        texts = [columns["digits"]] if isinstance(columns["digits"], str) else columns["digits"]
        groups = [_unpacked(columns["leading"], text) for text in texts]
    elif "groups" in columns:
        groups = [text.split() for text in columns["groups"]]
    else:
        split = {name: text.split() for name, text in columns.items()}
        return [dict(zip(split, cells, strict=True)) for cells in zip(*split.values(), strict=True)]
    return [{"value": text, "group": str(i)} for i, group in enumerate(groups, start=1) for text in group]


def _unpacked(leading: str, digits: str) -> Iterator[str]:
    for piece, _, times in (text.partition("*") for text in digits.split()):
        yield from (leading + digit for digit in piece * int(times or 1))


def _case(case: dict[str, Any], rows: Rows) -> Case:
    wanted = case.get("rows", {})
    kept = [row for row in rows if all(row[column] == text for column, text in wanted.items())]
    numbers = {name: [float(row[c]) for row in kept] for name, c in case.get("numbers", {}).items()}
    labels = {name: [row[c] for row in kept] for name, c in case.get("labels", {}).items()}
    return Case(
        name=case["name"], call=case["call"], expected=case["expected"], unit=case.get("unit"),
        attainable_digits=case.get("attainable_digits"),
        arguments={**case.get("arguments", {}), **numbers, **labels},
    )  # fmt: skip


def _cases_of(table: dict[str, Any]) -> Iterator[Case]:
    shared, key = table.get("arguments", {}), table["key"]
    for text, expected in table["expected"].items():
        number = int(text) if text.isdigit() else float(text)
        yield Case(
            name=f"{table['name']}, {key} {text}", call=table["call"], expected=expected,
            unit=table.get("unit"), arguments={**shared, key: number},
        )  # fmt: skip


def _rows(path: Path) -> Rows:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
