"""What every formula does first: turn its input into checked arrays, or say what is wrong."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

LARGEST = 1e150
"""Beyond this a square no longer fits a double."""

Floats = NDArray[np.float64]


def vector(values: ArrayLike, what: str, *, at_least: int = 1) -> Floats:
    """`values` as a one-dimensional float array of finite numbers.

    `what` names one value in messages ("result"). ValueError when the input is not one
    row of numbers, holds a missing or infinite one, or is shorter than `at_least`.
    """
    try:
        array = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise ValueError(f"every {what} must be a number") from error
    if array.ndim != 1:
        raise ValueError(f"one row of {what}s is expected, found an array with {array.ndim} dimensions")
    if array.size < at_least:
        raise ValueError(f"{count(array.size, what)} found, at least {at_least} needed")
    missing = int(np.count_nonzero(~np.isfinite(array)))
    if missing:
        raise ValueError(f"{missing} of {count(array.size, what)} found without a number (missing or infinite)")
    if array.size and float(np.max(np.abs(array))) > LARGEST:
        raise ValueError(f"a {what} is larger than {LARGEST:g}: it cannot be squared")
    return array


def number(value: float, what: str, *, above: float | None = None, not_below: float | None = None) -> float:
    """`value` as a finite float inside the stated range; ValueError otherwise."""
    try:
        result = float(value)
    except (TypeError, ValueError) as error:
        raise ValueError(f"{what} must be a number, found {value!r}") from error
    if not math.isfinite(result) or abs(result) > LARGEST:
        raise ValueError(f"{what} must be a finite number, found {result!r}")
    if above is not None and result <= above:
        raise ValueError(f"{what} must be above {above:g}, found {result!r}")
    if not_below is not None and result < not_below:
        raise ValueError(f"{what} must not be below {not_below:g}, found {result!r}")
    return result


def whole_number(value: float, what: str, *, at_least: int) -> int:
    """`value` as an int that is not below `at_least`; ValueError otherwise."""
    result = number(value, what)
    if result != int(result) or result < at_least:
        raise ValueError(f"{what} must be a whole number, at least {at_least}, found {value!r}")
    return int(result)


def confidence(level: float) -> float:
    """A two-sided confidence level between 0 and 1 (0.95, never 95)."""
    result = number(level, "the confidence level")
    if not 0 < result < 1:
        raise ValueError(f"the confidence level must lie between 0 and 1, found {result!r}")
    return result


def group_codes(groups: Iterable[Hashable], n: int, what: str = "group") -> tuple[NDArray[np.intp], list[Any]]:
    """Labels as numbers 0, 1, … in order of first appearance, and the labels in that order.

    ValueError when there is not exactly one label for each of the `n` results, or a label
    is missing (None or NaN).
    """
    labels: Sequence[Any] = np.asarray(groups, dtype=object).tolist() if not isinstance(groups, list) else groups
    if not isinstance(labels, list) or len(labels) != n:
        found = len(labels) if isinstance(labels, list) else 1
        raise ValueError(f"{count(found, what + ' label')} found for {n} results; one for each is needed")
    seen: dict[Any, int] = {}
    codes = np.fromiter((seen.setdefault(label, len(seen)) for label in labels), dtype=np.intp, count=n)
    if any(_is_missing(label) for label in seen):
        raise ValueError(f"a {what} label is missing")
    return codes, list(seen)


def count(n: int, what: str) -> str:
    """`1 result`, `3 results`."""
    return f"{n} {what}" if n == 1 else f"{n} {what}s"


def _is_missing(label: Any) -> bool:
    if label is None:
        return True
    try:
        return bool(label != label)
    except TypeError:  # a missing-value marker that has no truth value
        return True
