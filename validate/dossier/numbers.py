"""Numbers as text: the one place where anything is rounded, and only for print.

The rule: an uncertainty keeps two significant digits, the value is given to the same place,
and a number halfway between two goes to the even one. (Two digits: JCGM 100:2008, 7.2.6,
'usually suffices … at most two significant digits'; half to even: ISO 80000-1, annex on the
rounding of numbers, rule A. Both from memory.) Verdicts never see a rounded number.

Digits are those of the shortest decimal text that gives the double back, so that 2.675 is
halfway as it is printed. The minus is U+2212; five and more digits before the decimal point
are set in threes with a narrow no-break space; nothing depends on the locale.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_EVEN, Context, Decimal

MINUS = "−"
NARROW_SPACE = "\u202f"
NO_BREAK_SPACE = "\u00a0"
EN_DASH = "–"
TWO = 2
SIGNIFICANT = 4
"""Digits of a number that stands without an uncertainty, in tables."""
CALCULATOR = 7
"""Digits of a value put into a formula, so that the sum can be redone."""
MOST_DIGITS = 15
LARGEST_WHOLE = 1e9
_CONTEXT = Context(prec=400, rounding=ROUND_HALF_EVEN)
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def rounded(value: float, place: int) -> Decimal:
    """`value` to the decimal place 10**place, half to even: the only rounding of the dossier."""
    return Decimal(repr(float(value))).quantize(Decimal(1).scaleb(place), context=_CONTEXT)


def place_of(uncertainty: float, digits: int = TWO) -> int:
    """Exponent of the last place that `digits` significant digits of `uncertainty` reach.

    0.0996 with two digits is 0.10, so the place is −2; raises ValueError for zero.
    """
    exact = Decimal(repr(abs(float(uncertainty))))
    if not exact:
        raise ValueError("zero has no significant digits")
    place = exact.adjusted() - digits + 1
    return place + (rounded(abs(uncertainty), place).adjusted() - exact.adjusted())


def beside_interval(
    value: float, low: float | None, high: float | None, bounds: Iterable[float | None] = ()
) -> tuple[str, str, str]:
    """Value and limits as text, to the place that the half-width of the interval asks for.

    An open interval takes its one distance. The value keeps at least two significant digits,
    and as many more as it takes to print it on its own side of every bound: 20.04 against 20
    is never printed as 20. An open end is an empty text.
    """
    place = _side_of_bounds(value, _interval_place(value, low, high), bounds)
    texts = [plain(rounded(number, place)) if number is not None else "" for number in (value, low, high)]
    return texts[0], texts[1], texts[2]


def alone(value: float, bounds: Iterable[float | None] = (), digits: int = TWO + 1) -> str:
    """A value without an interval: three significant digits, more where a bound lies close."""
    place = place_of(value, digits) if value else 0
    return plain(rounded(value, _side_of_bounds(value, place, bounds)))


def significant(value: float, digits: int = SIGNIFICANT) -> str:
    """`value` to `digits` significant digits; digits before the decimal point are kept up to a thousand million."""
    if value == 0:
        return "0"
    if float(value).is_integer() and abs(value) < LARGEST_WHOLE:
        return plain(Decimal(int(value)))
    place = place_of(value, digits)
    return plain(rounded(value, min(0, place) if abs(value) < LARGEST_WHOLE else place))


def column(values: Sequence[float | None], digits: int = SIGNIFICANT) -> list[str]:
    """The numbers of a table column; a dash for none.

    Where they span at most two powers of ten all are given to one place, at which the largest
    has `digits` significant digits; else each is rounded by itself.
    """
    sizes = [abs(v) for v in values if v]
    orders = {Decimal(repr(float(size))).adjusted() for size in sizes}
    if not sizes or max(orders) - min(orders) > TWO or all(float(size).is_integer() for size in sizes):
        return [EN_DASH if v is None else significant(v, digits) for v in values]
    place = min(0, place_of(max(sizes), digits))
    return [EN_DASH if v is None else plain(rounded(v, place)) for v in values]


def calculator(value: float) -> str:
    """A value to be typed into a calculator: seven digits, no trailing zeros, no separators."""
    if value == 0:
        return "0"
    short = rounded(value, place_of(value, CALCULATOR)).normalize()
    return plain(short, separate=False)


def ticks(values: Sequence[float]) -> list[str]:
    """The numbers of an axis, all with as many decimals as the one that needs most."""
    exact = [Decimal(repr(float(v))).quantize(Decimal(1).scaleb(-12), context=_CONTEXT).normalize() for v in values]
    decimals = max((-int(number.as_tuple().exponent) for number in exact), default=0)
    return [plain(rounded(v, -max(0, decimals))) for v in values]


def whole(value: float | int | None) -> str:
    """A count or degrees of freedom: no decimals for a whole number, else one; a dash for none."""
    if value is None:
        return EN_DASH
    return plain(Decimal(int(value))) if float(value).is_integer() else plain(rounded(value, -1))


def percent_of_one(value: float) -> str:
    """A proportion as percent, to the whole percent; never 0 % or 100 % for what is not exactly so."""
    hundredfold = Decimal(repr(float(value))) * 100
    if 0 < hundredfold < Decimal("0.5"):
        return f"below{NO_BREAK_SPACE}1{NO_BREAK_SPACE}%"
    if Decimal("99.5") < hundredfold < 100:
        return f"above{NO_BREAK_SPACE}99{NO_BREAK_SPACE}%"
    return f"{plain(hundredfold.quantize(Decimal(1), context=_CONTEXT))}{NO_BREAK_SPACE}%"


def plain(number: Decimal, *, separate: bool = True) -> str:
    """A decimal as text: U+2212 for minus, thousands set apart, a power of ten when very large or small."""
    if number and not -4 <= number.adjusted() <= 8:
        mantissa, exponent = f"{number:E}".split("E")
        return (
            f"{mantissa.replace('-', MINUS)}{NO_BREAK_SPACE}×{NO_BREAK_SPACE}10{str(int(exponent)).translate(_RAISED)}"
        )
    if number == 0:
        number = abs(number)
    whole_part, point, decimals = f"{number:f}".replace("-", MINUS).partition(".")
    digits = whole_part.lstrip(MINUS)
    if separate and len(digits) > 4:
        whole_part = re.sub(r"(?<=\d)(?=(?:\d{3})+$)", NARROW_SPACE, whole_part)
    return whole_part + point + decimals


def with_unit(text: str, unit: str) -> str:
    """Number and unit, kept on one line; a number without a unit stays alone."""
    return f"{text}{NO_BREAK_SPACE}{unit}" if unit and unit != "1" else text


def _interval_place(value: float, low: float | None, high: float | None) -> int:
    if low is not None and high is not None:
        width = abs(high - low) / 2
    else:
        width = max((abs(value - end) for end in (low, high) if end is not None), default=0.0)
    if width == 0:
        counted = low is not None and float(value).is_integer() and abs(value) < LARGEST_WHOLE
        return 0 if counted or not value else place_of(value, SIGNIFICANT)
    place = place_of(width)
    return min(place, place_of(value)) if value else place


def _side_of_bounds(value: float, place: int, bounds: Iterable[float | None]) -> int:
    exact = Decimal(repr(float(value)))
    least = exact.adjusted() - MOST_DIGITS
    for bound in bounds:
        if bound is None:
            continue
        limit = Decimal(repr(float(bound)))
        while place > least and exact.compare(limit) != rounded(value, place).compare(limit):
            place -= 1
    return place
