"""Two evaluations of the same inputs, figure by figure: what agrees, to how many digits, and what does not."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from validate.vocabulary.finding import finding_id

AGREES = 1e-9
"""Largest relative difference of numbers that agree; libraries and machines differ in the last digits."""
FULL_DIGITS = 16
_FIGURE = ("value", "unit", "n", "df", "groups", "blocked")
_CRITERION = ("low", "high", "unit", "judge_by", "kind", "exception")


@dataclass
class Agreement:
    """Counts of what agreed, the fewest digits to which a number agreed, and every disagreement in words."""

    findings: int = 0
    intervals: int = 0
    verdicts: int = 0
    digits: float = FULL_DIGITS
    different: list[str] = field(default_factory=list)
    worded: list[str] = field(default_factory=list)
    """Where only words or parts beside the figures differ."""


def compare(carried: Mapping[str, Any], again: Mapping[str, Any]) -> Agreement:
    """The carried evaluation against the one computed again, both as plain JSON data."""
    result = Agreement()
    for side in ("as_reported", "as_recorded"):
        _pair(result, _findings(carried, side), _findings(again, side), _compare_finding)
    _pair(result, _verdicts(carried), _verdicts(again), _compare_verdict)
    figures = len(result.different)
    for place, ours, theirs in _all_differences(carried, again, ""):
        if not figures:
            result.worded.append(f"{place}: {_short(ours)} in the dossier, {_short(theirs)} computed again")
    return result


def _findings(evaluation: Mapping[str, Any], side: str) -> dict[str, Any]:
    words = "as reported" if side == "as_reported" else "as recorded"
    return {
        f"{finding_id(study['name'], finding['name'], finding['level'])} ({words})": finding
        for study in evaluation["studies"]
        for finding in study[side]["findings"]
    }


def _verdicts(evaluation: Mapping[str, Any]) -> dict[str, Any]:
    verdicts: dict[str, Any] = {}
    for line in evaluation["requirements"]:
        criterion = line["criterion"]
        identity = finding_id(criterion["study"], criterion["finding"], criterion["level"])
        name = f"{identity} against {criterion['source']}"
        while name in verdicts:
            name += " (again)"
        verdicts[name] = line
    return verdicts


def _pair(result: Agreement, carried: Mapping[str, Any], again: Mapping[str, Any], compare_one: Any) -> None:
    for name in dict.fromkeys((*carried, *again)):
        if name not in again:
            result.different.append(f"{name}: in the dossier, and not when computed again")
        elif name not in carried:
            result.different.append(f"{name}: not in the dossier, and there when computed again")
        else:
            compare_one(result, name, carried[name], again[name])


def _compare_finding(result: Agreement, name: str, carried: Mapping[str, Any], again: Mapping[str, Any]) -> None:
    wrong = _unequal(result, name, carried, again, _FIGURE)
    ours = {interval["use"]: interval for interval in carried["intervals"]}
    theirs = {interval["use"]: interval for interval in again["intervals"]}
    for use in dict.fromkeys((*ours, *theirs)):
        if use not in ours or use not in theirs:
            wrong.append(f"{name}, interval '{use}': only on one side")
            continue
        unequal = _unequal(result, f"{name}, interval '{use}'", ours[use], theirs[use], ("low", "high", "level"))
        result.intervals += not unequal
        wrong += unequal
    result.findings += not wrong
    result.different += wrong


def _compare_verdict(result: Agreement, name: str, carried: Mapping[str, Any], again: Mapping[str, Any]) -> None:
    wrong = _unequal(result, f"{name}, criterion", carried["criterion"], again["criterion"], _CRITERION)
    for side in ("as_reported", "as_recorded"):
        wrong += _unequal(result, name, carried[side], again[side], ("verdict", "evidence"))
    result.verdicts += not wrong
    result.different += wrong


def _unequal(
    result: Agreement, name: str, carried: Mapping[str, Any], again: Mapping[str, Any], keys: tuple[str, ...]
) -> list[str]:
    told = []
    for key in keys:
        differences = list(_all_differences(carried.get(key), again.get(key), key))
        told += [f"{name}, {at}: {_short(a)} in the dossier, {_short(b)} computed again" for at, a, b in differences]
        if not differences and isinstance(carried.get(key), (int, float)):
            result.digits = min(result.digits, _digits(carried[key], again[key]))
    return told


def _all_differences(carried: Any, again: Any, at: str) -> Iterator[tuple[str, Any, Any]]:
    if isinstance(carried, Mapping) and isinstance(again, Mapping):
        for key in sorted(carried.keys() | again.keys()):
            yield from _all_differences(carried.get(key), again.get(key), f"{at}/{key}" if at else str(key))
    elif isinstance(carried, list) and isinstance(again, list) and len(carried) == len(again):
        for i, (ours, theirs) in enumerate(zip(carried, again, strict=True)):
            yield from _all_differences(ours, theirs, f"{at}/{i}")
    elif _is_number(carried) and _is_number(again):
        if not math.isclose(carried, again, rel_tol=AGREES, abs_tol=1e-300):
            yield at, carried, again
    elif carried != again or type(carried) is not type(again):
        yield at, carried, again


def numbers_agree(first: float | None, second: float | None) -> bool:
    """Whether two figures are the same but for the last digits; None agrees with None."""
    return not list(_all_differences(first, second, ""))


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _digits(first: float, second: float) -> float:
    """Digits to which two numbers agree (the log relative error)."""
    if first == second:
        return FULL_DIGITS
    scale = max(abs(first), abs(second))
    return min(FULL_DIGITS, -math.log10(abs(first - second) / scale))


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 80 else text[:77] + "…"
