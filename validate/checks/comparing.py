"""Run a check against the public functions and compare every figure with the printed one."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from validate.vocabulary.check import Case, Check, Figure, Outcome

ALL_DIGITS = 15.0
MORE_DIGITS = 3
DIGITS_OF_A_DOUBLE = 17


def run(check: Check) -> Outcome:
    """Call the public functions that the check names and compare every printed figure.

    A call that raises gives no figure: its expected ones fail, with the error in words.
    """
    causes = {(each.case, each.figure): each.cause for each in check.deviations}
    return Outcome(check=check, figures=tuple(figure for case in check.cases for figure in _figures(case, causes)))


def compare(printed: str, obtained: float, unit: str | None = None) -> tuple[float, float]:
    """Units of the last printed digit between the two, and decimal digits that agree.

    A billionth of a unit is let go, so that a tie in decimals is no difference in doubles.
    """
    if not math.isfinite(obtained):
        return math.inf, 0.0
    wanted, got = Decimal(printed), Decimal(repr(float(obtained)))
    one = Decimal(unit) if unit else Decimal(1).scaleb(wanted.as_tuple().exponent)
    difference = abs(got - wanted)
    units = round(float(difference / one), 9)
    relative = difference / abs(wanted) if wanted else difference
    return units, min(ALL_DIGITS, -float(relative.log10())) if relative else ALL_DIGITS


def _figures(case: Case, causes: Mapping[tuple[str, str], str]) -> Iterator[Figure]:
    from validate.checks.calls import CALLS

    try:
        result = CALLS[case.call](**case.arguments)
        found = {name: _attribute(result, name) for name in case.expected}
    except Exception as error:  # whatever breaks in the function under check is a finding, not a crash
        for name, printed in case.expected.items():
            words = f"no figure: {type(error).__name__}: {error}"
            yield Figure(
                case=case.name, name=name, printed=printed, obtained=words, units_off=math.inf, digits_agreed=0.0,
                attainable_digits=case.attainable_digits, computed=False,
            )  # fmt: skip
        return
    for name, printed in case.expected.items():
        units, digits = compare(printed, found[name], case.unit)
        yield Figure(
            case=case.name, name=name, printed=printed, obtained=_as_text(found[name], printed), units_off=units,
            digits_agreed=digits, cause=causes.get((case.name, name)), attainable_digits=case.attainable_digits,
        )  # fmt: skip


def _attribute(result: Any, path: str) -> float:
    if path == "value":
        return float(result)
    for step in path.split("."):
        result = result[step] if isinstance(result, Mapping) else getattr(result, step)
    return float(result)


def _as_text(obtained: float, printed: str) -> str:
    """The computed figure in the form of the printed one, with three digits more where a double has them."""
    digits = Decimal(printed).as_tuple()
    if "E" in printed.upper():
        return f"{obtained:.{min(DIGITS_OF_A_DOUBLE, len(digits.digits) + MORE_DIGITS) - 1}E}"
    places = max(0, MORE_DIGITS - int(digits.exponent))
    before = max(1, len(f"{abs(obtained):.0f}")) if abs(obtained) >= 1 else 0
    return f"{obtained:.{max(0, min(places, DIGITS_OF_A_DOUBLE - before))}f}"
