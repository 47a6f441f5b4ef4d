"""A cell that holds a time: ISO date and time of day, with an offset where one is written.

`2031-03-10 08:22`, `2031-03-10T08:22:30`, `2031-03-10T08:22+01:00`, `2031-03-10T07:22Z`. A date alone
stands for some time on that day. Whether a local time exists, or exists twice, depends on
the time zone and is not looked at here.
"""

from __future__ import annotations

import re

from validate.tables.cells import Read, read_date_cell

_TIME = re.compile(
    r"(\d{4}-\d{2}-\d{2})"
    r"(?:(?:T|\s+)(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,3})\d*)?)?\s*(Z|[+-]\d{2}(?::?\d{2})?)?)?",
    re.ASCII,
)
_CLOCK = re.compile(r"\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?\s*(?:[ap]\.?m\.?)?", re.ASCII | re.IGNORECASE)
_DATE_AND_CLOCK = re.compile(r"(\S+?)(?:T|,?\s+)\d{1,2}:\d{2}.*", re.ASCII)
_LARGEST_OFFSET = 14 * 60
LONGEST_TIME = 40


def read_time_cell(cell: str) -> Read:
    """A time in its one spelling: `2031-03-10`, `2031-03-10T08:22:00`, seconds with parts and offset as written."""
    if not cell:
        return Read(code="cell-empty")
    if len(cell) > LONGEST_TIME:
        return Read(code="cell-time-form")
    written = _TIME.fullmatch(cell)
    if written is None:
        return _why_no_time(cell)
    day, hour, minute, second, parts, offset = written.groups()
    if read_date_cell(day).code:
        return Read(code="cell-date-impossible")
    if hour is None:
        return Read(day)
    shift = _offset(offset)
    if int(hour) > 23 or int(minute) > 59 or int(second or 0) > 59 or shift is None:
        return Read(code="cell-time-impossible")
    clock = f"{int(hour):02d}:{minute}:{second or '00'}" + (f".{parts}" if parts else "")
    return Read(f"{day}T{clock}{shift}")


def _offset(text: str | None) -> str | None:
    """`+01:00`, or empty when none is written; None when there is no such offset."""
    if text is None:
        return ""
    if text == "Z":
        return "+00:00"
    hours, minutes = int(text[1:3]), int(text[-2:]) if len(text) > 3 else 0
    if minutes > 59 or hours * 60 + minutes > _LARGEST_OFFSET:
        return None
    return f"{text[0]}{hours:02d}:{minutes:02d}"


def _why_no_time(cell: str) -> Read:
    if _CLOCK.fullmatch(cell):
        return Read(code="cell-time-without-date")
    dated = _DATE_AND_CLOCK.fullmatch(cell)
    read = read_date_cell(dated[1] if dated else cell)
    return read if read.code not in ("", "cell-date-form") else Read(code="cell-time-form")
