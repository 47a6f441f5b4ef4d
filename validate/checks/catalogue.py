"""What the catalogue of published limits says, in the few words that a check file needs."""

from __future__ import annotations

from dataclasses import dataclass

from validate.criteria.bounds import ResolvedBound, bound_at
from validate.criteria.catalogue import criteria_set as set_named
from validate.criteria.designs import Design, designs
from validate.criteria.entries import Entry, speaks_of
from validate.studies.contract import Method
from validate.vocabulary.quantity import mass_fraction_per_unit

UNITLESS = "horrat"
"""Findings whose names begin so have no unit; `loq` is in the method's unit, all others in %."""


@dataclass(frozen=True)
class Range:
    """A lower and an upper bound."""

    low: float
    high: float


def bound(
    *, criteria_set: str, finding: str, level: float | None = None, measurand: str = "", unit: str = "µg/kg",
    limit: float | None = None,
) -> ResolvedBound:  # fmt: skip
    """The bound of a set on a finding at a level in `unit`; `limit` is the method's maximum level."""
    method = Method(
        measurand=measurand, unit=unit, mass_fraction_per_unit=mass_fraction_per_unit(unit), resolution=None,
        floor=None, limit=limit, scope_from=None, scope_to=None, method_defined=False,
    )  # fmt: skip
    unit_of_finding = "" if finding.startswith(UNITLESS) else unit if finding == "loq" else "%"
    text = None if level is None else str(level)
    return bound_at(_entry(criteria_set, finding, measurand), text, method, unit_of_finding)


def exceptional_bound(*, criteria_set: str, finding: str, measurand: str = "") -> Range:
    """The wider bound that holds only when other criteria are met."""
    exception = _entry(criteria_set, finding, measurand).exception
    if exception is None:
        raise ValueError(f"{criteria_set} has no exceptional bound on {finding}")
    return Range(*exception.between)


def minimum_design(*, design: str) -> Design:
    """A minimum design by its id."""
    return next(each for each in designs() if each.id == design)


def _entry(name: str, finding: str, measurand: str) -> Entry:
    found = set_named(name)
    entries = found.entry if found else ()
    for entry in entries:
        if entry.finding == finding and speaks_of(entry.measurands, measurand) and not entry.matrices:
            return entry
    raise ValueError(f"no entry on {finding} for {measurand or 'any measurand'} in {name}")
