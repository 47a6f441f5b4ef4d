"""Numbers as they stand on a label: no more digits than they have."""

from __future__ import annotations

from validate.dossier.numbers import NARROW_SPACE, NO_BREAK_SPACE, SIGNIFICANT, place_of, plain, rounded


def short(value: float, digits: int = SIGNIFICANT) -> str:
    """`value` to four significant digits, without trailing zeros.

    >>> short(0.1), short(1 / 30), short(1200)
    ('0.1', '0.03333', '1200')
    """
    if value == 0:
        return "0"
    number = rounded(value, place_of(value, digits)).normalize()
    return plain(number.quantize(1) if number == number.to_integral_value() else number)


def in_message(text: str) -> str:
    """`text` with plain spaces: a message shows every other kind as an escape."""
    return text.replace(NO_BREAK_SPACE, " ").replace(NARROW_SPACE, " ")


def of_unit(value: float, unit: str) -> str:
    """Number and unit, kept on one line."""
    return f"{short(value)}{NO_BREAK_SPACE}{unit}"
