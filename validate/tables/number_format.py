"""What a number format of a spreadsheet shows of a stored number.

Format codes as in ECMA-376 part 1, 18.8.30 and 18.8.31 (clauses from memory): up to four sections
(positive; negative; zero; text), placeholders `0 # ?`, literal text, `%`, exponents, and
date parts. Enough is understood to tell dates from numbers and to see whether digits that
are stored are not shown.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from functools import lru_cache
from typing import Literal

BUILT_IN = {
    0: "General", 1: "0", 2: "0.00", 3: "#,##0", 4: "#,##0.00", 9: "0%", 10: "0.00%", 11: "0.00E+00", 12: "# ?/?",
    13: "# ??/??", 14: "yyyy-mm-dd", 15: "d-mmm-yy", 16: "d-mmm", 17: "mmm-yy", 18: "h:mm AM/PM",
    19: "h:mm:ss AM/PM", 20: "h:mm", 21: "h:mm:ss", 22: "yyyy-mm-dd h:mm", 37: "#,##0", 38: "#,##0", 39: "#,##0.00",
    40: "#,##0.00", 41: "#,##0", 42: "#,##0", 43: "#,##0.00", 44: "#,##0.00", 45: "mm:ss", 46: "[h]:mm:ss",
    47: "mm:ss.0", 48: "##0.0E+0", 49: "@",
    **dict.fromkeys((*range(27, 37), *range(50, 59)), "yyyy-mm-dd"),
}  # fmt: skip
_LONGEST_CODE = 255
_LITERAL = re.compile(r'"[^"]*"|\\.|\[\$[^\]]*\]')
_SPACING = re.compile(r"_.|\*.")
_ELAPSED = re.compile(r"\[(h+|m+|s+)\]", re.IGNORECASE)
_BRACKETS = re.compile(r"\[[^\]]*\]")
_NUMERIC = re.compile(r"(?P<whole>[0#?,]*)(?P<point>\.(?P<part>[0#?]*))?(?P<exponent>E[+-]0+)?", re.IGNORECASE)
_LAST_DAY = 2_958_465
_DAYS_TO_1904 = 1_462
_SECONDS_A_DAY = 86_400

Kind = Literal["general", "number", "percent", "date", "time", "other"]


@dataclass(frozen=True)
class Section:
    """How one section of a format shows a number. `decimals` behind the point, or of the mantissa."""

    kind: Kind
    decimals: int = 0
    exponent_step: int = 0
    """Of a format with an exponent: the exponent is a multiple of it (1, or 3 for `##0.0E+0`)."""
    adds_text: bool = False
    """Literal text or leading zeros: what is shown is more than the number."""

    def rounds(self, text: str) -> bool:
        """Whether digits of the number (decimal text) are stored and not shown; to 15 digits, as programs show them."""
        if self.kind in ("general", "date", "time"):
            # A general number shows as many digits as its column is wide.
            return False
        plain = self.kind == "number" and not self.exponent_step and "e" not in text
        if plain and len(text.partition(".")[2]) <= self.decimals:
            return False
        return self.kind == "other" or self.shown(text) != _decimal(text)

    def shown(self, text: str) -> Decimal:
        """The number as it is shown, halves away from zero."""
        number = _decimal(text)
        decimals = self.decimals + (2 if self.kind == "percent" else 0)
        if self.exponent_step and number:
            decimals -= number.adjusted() // self.exponent_step * self.exponent_step
        try:
            return number.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP)
        except InvalidOperation:
            return number


def _decimal(text: str) -> Decimal:
    return Decimal(f"{float(text):.15g}")


@dataclass(frozen=True)
class NumberFormat:
    """A format code in its sections."""

    sections: tuple[Section, ...]

    def section(self, value: float) -> Section:
        """The section that shows `value`."""
        if value < 0 and len(self.sections) > 1:
            return self.sections[1]
        if value == 0 and len(self.sections) > 2:
            return self.sections[2]
        return self.sections[0]


@lru_cache(maxsize=1_024)
def number_format(code: str) -> NumberFormat:
    """The format that `code` describes; a code that is not understood shows something else than the number."""
    literals = [] if len(code) > _LONGEST_CODE else _sections(code)
    return NumberFormat(tuple(map(_section, literals[:3])) or (Section("other"),))


def _sections(code: str) -> list[str]:
    """The code cut at semicolons outside of quotes, brackets and escapes."""
    pieces, start = [], 0
    quiet = [match.span() for match in re.finditer(r'"[^"]*"|\\.|\[[^\]]*\]|_.|\*.', code)]
    for i, character in enumerate(code):
        if character == ";" and not any(a <= i < b for a, b in quiet):
            pieces.append(code[start:i])
            start = i + 1
    return [*pieces, code[start:]]


def _section(code: str) -> Section:
    adds_text = any(match.group().strip('"\\ ') for match in _LITERAL.finditer(code))
    bare = _SPACING.sub("", _LITERAL.sub("", code))
    elapsed = _ELAPSED.search(bare) is not None
    bare = _BRACKETS.sub("", bare)
    folded = bare.casefold().strip()
    if folded in ("general", "@"):
        return Section("general", adds_text=adds_text)
    if elapsed:
        return Section("time")
    digits = re.sub(r"e[+-]", "", folded)
    if re.search(r"[yd]", digits) or ("m" in digits and not re.search(r"[hs]", digits)):
        return Section("date")
    if re.search(r"[hs]", digits):
        return Section("time")
    return _number_section(bare, adds_text)


def _number_section(bare: str, adds_text: bool) -> Section:
    """A fraction, a scale of thousands or no digit at all shows something else than the number."""
    match = _NUMERIC.fullmatch(re.sub(r"[%\s()$€£]", "", bare).lstrip("+-"))
    if match is None or not re.search(r"[0#?]", bare) or match["whole"].endswith(","):
        return Section("other")
    places = match["whole"].replace(",", "")
    return Section(
        "percent" if "%" in bare else "number",
        len(match["part"] or ""),
        len(places) if match["exponent"] else 0,
        adds_text or places.count("0") > 1,
    )


def date_text(serial: float, kind: Kind, *, from_1904: bool) -> str:
    """A serial day number as ISO date, with the time of day where there is one; `#` where no date has it."""
    last = _LAST_DAY - (_DAYS_TO_1904 if from_1904 else 0)
    if not 0 <= serial < last:
        return "########"
    days, seconds = divmod(round(serial * _SECONDS_A_DAY), _SECONDS_A_DAY)
    clock = f"{seconds // 3600:02d}:{seconds % 3600 // 60:02d}" + (f":{seconds % 60:02d}" if seconds % 60 else "")
    if kind == "time" and days == 0:
        return clock
    if from_1904:
        days += _DAYS_TO_1904
    elif days <= 60:
        # The day 1900-02-29, which never was, has the number 60.
        days += 1
    day = (dt.date(1899, 12, 30) + dt.timedelta(days=days)).isoformat()
    return f"{day} {clock}" if seconds else day
