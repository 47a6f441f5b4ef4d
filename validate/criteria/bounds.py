"""An entry of a set at one level: the numbers, the words, and what had to be decided."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from validate.criteria.entries import Entry, Row, bound_of
from validate.criteria.words import bound_words, number_words, with_unit
from validate.studies.contract import Method
from validate.vocabulary.quantity import conversion_factor, mass_fraction_per_unit

FUNCTION_TITLES = {
    "horwitz": "Horwitz, 2^(1 − 0.5·log10 C)",
    "horwitz-aoac": "Horwitz, 2·C^−0.15",
    "thompson": "Thompson",
}


@dataclass(frozen=True, kw_only=True)
class ResolvedBound:
    """A bound as numbers in the finding's unit."""

    low: float | None
    high: float | None
    wording: str
    notes: tuple[str, ...] = ()


class BoundMissing(Exception):
    """The entry gives no number here; `code` and `values` make the problem."""

    def __init__(self, code: str, **values: object) -> None:
        self.code, self.values = code, values
        super().__init__(code)


def bound_at(entry: Entry, level: str | None, method: Method, unit: str) -> ResolvedBound:
    """The bound of `entry` for a finding in `unit` at `level` (decimal text in the method's unit).

    Raises BoundMissing when a level, a mass fraction or the method's limit is needed and
    absent, when the level lies outside the printed table, or when the units do not fit.
    """
    if entry.of_limit:
        return _relative_to_limit(entry, method, unit)
    if entry.function:
        return _by_function(entry, mass_fraction(level, method), unit)
    if entry.rows:
        return _by_rows(entry, mass_fraction(level, method), level, method, unit)
    low, high = (_scaled(end, _factor(entry.unit, unit)) for end in bound_of(entry))
    return ResolvedBound(low=low, high=high, wording=_worded(entry, bound_words(low, high, unit)))


def mass_fraction(level: str | None, method: Method) -> Decimal:
    """The level as an exact decimal mass fraction."""
    if level is None:
        raise BoundMissing("level-needed")
    if method.mass_fraction_per_unit is None:
        raise BoundMissing("unit-is-no-mass-fraction", unit=method.unit)
    return Decimal(level) * Decimal(repr(method.mass_fraction_per_unit))


def _relative_to_limit(entry: Entry, method: Method, unit: str) -> ResolvedBound:
    if method.limit is None:
        raise BoundMissing("limit-needed")
    factor = _factor(method.unit, unit)
    low, high = (_scaled(end, method.limit * factor) for end in bound_of(entry))
    multiple = bound_words(*bound_of(entry), "× the limit")
    return ResolvedBound(low=low, high=high, wording=f"{multiple} ({bound_words(low, high, unit)})")


def _by_function(entry: Entry, fraction: Decimal, unit: str) -> ResolvedBound:
    from validate.stats.horwitz import predicted_rsd_percent

    if not 0 < float(fraction) <= 1:
        raise BoundMissing("no-prediction", fraction=f"{fraction:g}")
    model = entry.function.model
    predicted = float(predicted_rsd_percent(float(fraction), model=model))
    high = entry.function.multiple * predicted * _factor("%", unit)
    words = f"at most {entry.function.factor} × the predicted RSD_R ({with_unit(number_words(high), unit)})"
    return ResolvedBound(low=None, high=high, wording=words, notes=(f"Prediction: {FUNCTION_TITLES[model]}.",))


def _by_rows(entry: Entry, fraction: Decimal, level: str | None, method: Method, unit: str) -> ResolvedBound:
    rows, why = _rows_for(entry, fraction)
    if not rows:
        printed = "; ".join(row.printed for row in entry.rows)
        raise BoundMissing("level-outside-rows", level=level, unit=method.unit, rows=printed)
    scale = entry.multiple * _factor(entry.unit, unit)
    lows, highs = zip(*(bound_of(row) for row in rows), strict=True)
    low = _scaled(max((end for end in lows if end is not None), default=None), scale)
    high = _scaled(min((end for end in highs if end is not None), default=None), scale)
    printed = " and ".join(row.printed for row in rows)
    notes = (f"Level {level} {method.unit} {why} {printed}: the stricter row is used.",) if why else ()
    label = f"rows {printed}" if why else f"row {printed}"
    wording = _worded(entry, f"{bound_words(low, high, unit)} ({label})")
    return ResolvedBound(low=low, high=high, wording=wording, notes=notes)


def _rows_for(entry: Entry, fraction: Decimal) -> tuple[list[Row], str]:
    """The rows that hold at this mass fraction, and why there are two (printed tables overlap and have gaps)."""
    per_unit = Decimal(repr(mass_fraction_per_unit(entry.rows_unit)))
    holding = [row for row in entry.rows if _holds(row, fraction / per_unit)]
    if len(holding) > 1:
        return holding, "stands in both rows"
    if holding:
        return holding, ""
    below = [row for row in entry.rows if (_upper(row) is not None and _upper(row) * per_unit <= fraction)]
    above = [row for row in entry.rows if (_lower(row) is not None and _lower(row) * per_unit >= fraction)]
    if below and above:
        return [max(below, key=_upper), min(above, key=_lower)], "lies between the rows"
    return [], ""


def _holds(row: Row, level: Decimal) -> bool:
    if row.at_level is not None:
        return level == _exact(row.at_level)
    return (
        (row.from_level is None or level >= _exact(row.from_level))
        and (row.above_level is None or level > _exact(row.above_level))
        and (row.to_level is None or level <= _exact(row.to_level))
        and (row.below_level is None or level < _exact(row.below_level))
    )


def _upper(row: Row) -> Decimal | None:
    return _first(row.at_level, row.to_level, row.below_level)


def _lower(row: Row) -> Decimal | None:
    return _first(row.at_level, row.from_level, row.above_level)


def _first(*edges: float | None) -> Decimal | None:
    return next((_exact(edge) for edge in edges if edge is not None), None)


def _exact(value: float) -> Decimal:
    return Decimal(repr(value))


def _factor(unit: str, target: str) -> float:
    unit, target = (name if name != "1" else "" for name in (unit, target))
    if unit == target:
        return 1.0
    try:
        return conversion_factor(unit, target)
    except ValueError:
        raise BoundMissing("units-do-not-fit", unit=unit or "1", target=target or "1") from None


def _scaled(end: float | None, factor: float) -> float | None:
    return None if end is None else end * factor


def _worded(entry: Entry, words: str) -> str:
    return f"{words}, {entry.words}" if entry.words else words
