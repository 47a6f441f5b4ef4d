"""Read the published check values and run them against the public functions."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

FOLDER = Path(__file__).parent

Kind = Literal["published", "independent", "by hand", "constructed", "from memory"]


@dataclass(frozen=True, kw_only=True)
class Case:
    """One call and the figures that its result must have, as printed."""

    name: str
    call: str
    arguments: Mapping[str, Any]
    expected: Mapping[str, str]
    unit: str | None = None
    """Unit of comparison where the source is no better than that; else the last printed digit."""


@dataclass(frozen=True, kw_only=True)
class Deviation:
    """A figure known to be more than half a unit of its last digit off, and why."""

    case: str
    figure: str
    cause: str


@dataclass(frozen=True, kw_only=True)
class Check:
    """One published example: where it stands, how it was obtained, what it says."""

    id: str
    title: str
    citation: str
    obtained: str
    kind: Kind
    licence: str
    cases: tuple[Case, ...]
    deviations: tuple[Deviation, ...] = ()
    data: str | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One printed figure beside the computed one."""

    case: str
    name: str
    printed: str
    obtained: str
    """The computed figure, with three digits more than were printed."""
    units_off: float
    """Difference in units of the last printed digit (or of the case's `unit`)."""
    digits_agreed: float
    """Minus the decimal logarithm of the relative difference (absolute where 0 is printed)."""
    cause: str | None
    """Why it is more than half a unit off, when the check lists it as a deviation."""

    @property
    def passes(self) -> bool:
        """Within one unit of the last printed digit."""
        return self.units_off <= 1

    @property
    def deviates(self) -> bool:
        """More than half a unit off: rounding alone does not explain it."""
        return self.units_off > 0.5


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What running one check gave."""

    check: Check
    figures: tuple[Figure, ...] = field(default=())

    @property
    def passes(self) -> bool:
        """Every figure agrees, and every deviation is listed with its cause."""
        return all(f.passes and (f.cause is not None or not f.deviates) for f in self.figures)


@lru_cache(maxsize=1)
def checks() -> tuple[Check, ...]:
    """All checks that ship with the package, in alphabetical order of their files."""
    return tuple(read_check(path) for path in sorted(FOLDER.glob("*.toml")))


def read_check(path: Path) -> Check:
    """The check in one TOML file; raises TypeError on a missing or unknown key."""
    entry = tomllib.loads(path.read_text(encoding="utf-8"))
    rows = _rows(path.parent / entry["data"]) if "data" in entry else []
    singles = [_case(case, rows) for case in entry.pop("case", ())]
    tabled = [case for table in entry.pop("table", ()) for case in _cases_of(table)]
    deviations = tuple(Deviation(**each) for each in entry.pop("deviation", ()))
    notes = tuple(entry.pop("notes", ()))
    return Check(**entry, notes=notes, cases=tuple(singles + tabled), deviations=deviations)


def run(check: Check) -> Outcome:
    """Call the public functions that the check names and compare every printed figure."""
    causes = {(each.case, each.figure): each.cause for each in check.deviations}
    figures = tuple(figure for case in check.cases for figure in _figures(case, causes))
    return Outcome(check=check, figures=figures)


def compare(printed: str, obtained: float, unit: str | None = None) -> tuple[float, float]:
    """Units of the last printed digit between the two, and decimal digits that agree.

    A billionth of a unit is let go, so that a tie in decimals is no difference in doubles.
    """
    wanted, got = Decimal(printed), Decimal(repr(float(obtained)))
    one = Decimal(unit) if unit else Decimal(1).scaleb(wanted.as_tuple().exponent)
    difference = abs(got - wanted)
    units = round(float(difference / one), 9)
    relative = difference / abs(wanted) if wanted else difference
    return units, min(15.0, -float(relative.log10())) if relative else 15.0


def _figures(case: Case, causes: Mapping[tuple[str, str], str]) -> Iterator[Figure]:
    from validate.checks.calls import CALLS

    result = CALLS[case.call](**case.arguments)
    for name, printed in case.expected.items():
        obtained = _attribute(result, name)
        units, digits = compare(printed, obtained, case.unit)
        yield Figure(
            case=case.name, name=name, printed=printed, obtained=_as_text(obtained, printed),
            units_off=units, digits_agreed=digits, cause=causes.get((case.name, name)),
        )  # fmt: skip


def _attribute(result: Any, path: str) -> float:
    if path == "value":
        return float(result)
    for step in path.split("."):
        result = result[step] if isinstance(result, Mapping) else getattr(result, step)
    return float(result)


def _as_text(obtained: float, printed: str) -> str:
    places = -Decimal(printed).as_tuple().exponent + 3
    return f"{obtained:.{max(0, places)}f}"


def _case(case: dict[str, Any], rows: list[dict[str, str]]) -> Case:
    wanted = case.get("rows", {})
    kept = [row for row in rows if all(row[column] == text for column, text in wanted.items())]
    numbers = {name: [float(row[c]) for row in kept] for name, c in case.get("numbers", {}).items()}
    labels = {name: [row[c] for row in kept] for name, c in case.get("labels", {}).items()}
    return Case(
        name=case["name"], call=case["call"], expected=case["expected"], unit=case.get("unit"),
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


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
