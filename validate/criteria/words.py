"""Numbers and bounds as words, for the reasons of a verdict; verdicts never see rounded values."""

from __future__ import annotations

from collections.abc import Sequence

FEWEST_DIGITS = 3
MOST_DIGITS = 12
COMPUTED_DIGITS = 6
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def number_words(value: float, *, beside: Sequence[float | None] = ()) -> str:
    """`value` to three significant digits, or to as many as tell it from the numbers `beside` it.

    A result of 120.04 beside a bound of 120 must not read `120`.
    """
    others = [other for other in beside if other is not None and other != value]
    for digits in range(FEWEST_DIGITS, MOST_DIGITS):
        text = _rounded(value, digits)
        if all(text != _rounded(other, digits) for other in others):
            return text
    return _rounded(value, MOST_DIGITS)


def _rounded(value: float, digits: int) -> str:
    if value == 0:
        return "0"
    scientific = f"{value:.{digits - 1}e}"
    exponent = int(scientific.split("e")[1])
    if not -5 <= exponent <= 8:
        return _power_of_ten(scientific)
    return f"{float(scientific):.{max(0, digits - 1 - exponent)}f}".replace("-", "−")


def _power_of_ten(scientific: str) -> str:
    """`4.46e-10` as `4.46 × 10⁻¹⁰`; a number without a power as it is."""
    mantissa, e, exponent = scientific.replace("-", "−").partition("e")
    return f"{mantissa} × 10{str(int(exponent.replace('−', '-'))).translate(_RAISED)}" if e else mantissa


def plain(value: float) -> str:
    """A bound as it was written: `20`, `0.5`, `12345.67`, without trailing zeros.

    A number that MOST_DIGITS digits do not hold was computed, not written: it reads to COMPUTED_DIGITS.
    """
    text = f"{value:.{MOST_DIGITS}g}"
    if float(text) != value:
        text = f"{value:.{COMPUTED_DIGITS}g}"
    return text.replace("-", "−") if "e" not in text else _power_of_ten(text)


def with_unit(text: str, unit: str) -> str:
    return f"{text} {unit}" if unit not in ("", "1") else text


def bound_words(low: float | None, high: float | None, unit: str) -> str:
    """`70 % to 120 %`, `at most 20 %`, `at least 95 %`."""
    if low is not None and high is not None:
        return f"{with_unit(plain(low), unit)} to {with_unit(plain(high), unit)}"
    if high is not None:
        return f"at most {with_unit(plain(high), unit)}"
    if low is not None:
        return f"at least {with_unit(plain(low), unit)}"
    raise ValueError("a bound needs a lower or an upper end")
