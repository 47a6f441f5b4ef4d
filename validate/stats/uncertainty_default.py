"""Default uncertainties that a law allows, each only under its condition."""

from __future__ import annotations

from dataclasses import dataclass

from validate.stats._input import number
from validate.stats.uncertainty_budget import Expanded


@dataclass(frozen=True)
class DefaultRule:
    """U of `percent` of the result with coverage factor `k`, allowed while `condition` holds.

    The condition: the mean of |z| in proficiency tests, scored with a standard deviation of
    `sigma_percent` of the assigned value, at most `largest_mean_absolute_z`.
    """

    percent: float
    k: float
    sigma_percent: float
    largest_mean_absolute_z: float
    condition: str
    source: str


DEFAULT_RULES: dict[str, DefaultRule] = {
    "eu-2023-2782": DefaultRule(
        percent=50,
        k=2,
        sigma_percent=25,
        largest_mean_absolute_z=2,
        condition="mean absolute z-score of proficiency tests at most 2, scored with a standard deviation of 25 %",
        source="Commission Implementing Regulation (EU) 2023/2782 Annex II 4.2 and 4.3",
    ),
}


def default_uncertainty(value: float, *, rule: str, mean_absolute_z: float | None) -> Expanded:
    """The default U of `rule` at `value`, in the unit of the value.

    `mean_absolute_z`: mean of |z| of the laboratory's proficiency tests, scored as the rule
    says; None when there are none. Raises ValueError when the condition is not shown, or the rule
    is unknown.

    >>> default_uncertainty(5.0, rule="eu-2023-2782", mean_absolute_z=0.7).U
    2.5
    """
    if rule not in DEFAULT_RULES:
        raise ValueError(f"unknown rule {rule!r}; one of {', '.join(DEFAULT_RULES)} is needed")
    found = DEFAULT_RULES[rule]
    needed = f"the default of {found.percent:g} % needs its condition: {found.condition}"
    if mean_absolute_z is None:
        raise ValueError(f"{needed}; no score was given")
    if number(mean_absolute_z, "the mean absolute z-score", not_below=0) > found.largest_mean_absolute_z:
        raise ValueError(f"{needed}; found {mean_absolute_z:g}")
    U = number(value, "the value", not_below=0) * found.percent / 100
    return Expanded(U / found.k, found.k, U, None, f"default of {found.percent:g} %")
