"""Times as written → the instants that they can mean.

A time is kept as the span between the first and the last instant that it can mean: a time
of day is one instant, an hour that daylight saving repeats is two, a date alone is its day,
and what is not recorded is any time at all.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

FAR = 2**61
"""Beyond every time, in ms; the sum of two still fits."""
DAY = 86_400_000
_EPOCH = dt.datetime(1970, 1, 1)
_LAST_DAY = (dt.date.max - _EPOCH.date()).days - 1
_LENGTH_OF_DATE, _LENGTH_TO_SECONDS = 10, 19

Instants = np.ndarray
"""int64, ms since 1970-01-01 00:00 UTC (of the local clock where no zone is declared)."""


@dataclass(frozen=True)
class Times:
    """Spans, one for each cell. `low` and `high` are ±FAR where nothing is recorded (or the time does not exist)."""

    low: Instants
    high: Instants
    local: Instants
    """The time as written on the local clock, ms; of a date its midnight. Of use only where `recorded`."""
    recorded: np.ndarray
    date_only: np.ndarray
    repeated: np.ndarray
    """Local times that the change of clocks gives twice."""
    skipped: np.ndarray
    """Local times that the change of clocks leaves out; they are recorded and mean nothing."""
    with_offset: np.ndarray

    def __getitem__(self, rows: np.ndarray) -> Times:
        return Times(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))

    def otherwise(self, other: Times) -> Times:
        """These times, and `other` where they are not recorded."""
        return Times(
            *(np.where(self.recorded, getattr(self, name), getattr(other, name)) for name in self.__dataclass_fields__)
        )


def read_times(texts: Sequence[str], zone: ZoneInfo | None) -> Times:
    """The spans of times in the one spelling of a `time` or `date` column; an empty text is not recorded."""
    count = len(texts)
    lengths = np.fromiter(map(len, texts), np.int64, count)
    recorded, date_only = lengths > 0, lengths == _LENGTH_OF_DATE
    offsets = np.zeros(count, np.int64)
    with_offset = np.zeros(count, bool)
    bare = list(texts)
    for i in np.flatnonzero(lengths > _LENGTH_TO_SECONDS).tolist():
        text = texts[i]
        if text[-3] == ":":
            with_offset[i] = True
            minutes = int(text[-5:-3]) * 60 + int(text[-2:])
            offsets[i] = (minutes if text[-6] == "+" else -minutes) * 60_000
            bare[i] = text[:-6]
    local = np.array([text or "1970-01-01" for text in bare], dtype="datetime64[ms]").astype(np.int64)
    low, high, repeated, skipped = _instants(local, zone)
    ends = _instants(local + DAY, zone)[1] - 1 if date_only.any() else high
    starts = np.where(skipped, low, np.minimum(low, high))
    low, high = np.where(date_only, starts, low), np.where(date_only, ends, high)
    low, high = (np.where(with_offset, local - offsets, end) for end in (low, high))
    plain = recorded & ~date_only & ~with_offset
    repeated, skipped = repeated & plain, skipped & plain
    nothing = ~recorded | skipped
    return Times(
        low=np.where(nothing, -FAR, low),
        high=np.where(nothing, FAR, high),
        local=local,
        recorded=recorded,
        date_only=date_only,
        repeated=repeated,
        skipped=skipped,
        with_offset=with_offset,
    )


def nothing_recorded(count: int) -> Times:
    return read_times([""] * count, None)


def ends_of_day(local: Instants, days: int, zone: ZoneInfo | None) -> Instants:
    """The last instant of the local day that comes `days` after the one in which `local` lies."""
    return _instants(local // DAY * DAY + (days + 1) * DAY, zone)[1] - 1


def _instants(local: Instants, zone: ZoneInfo | None) -> tuple[Instants, Instants, np.ndarray, np.ndarray]:
    """First and last instant of local times, and which of them are repeated and skipped.

    The offset is asked once for each day; on a day that changes its offset for each time.
    A skipped time gets the two instants that the offsets before and after the change give.
    """
    none = np.zeros(len(local), bool)
    if zone is None:
        return local, local, none, none
    days = local // DAY
    distinct, place = np.unique(days, return_inverse=True)
    at_midnight = {day: _offsets(day * DAY, zone) for first in distinct.tolist() for day in (first, first + 1)}
    steady = np.array([len({*at_midnight[d], *at_midnight[d + 1]}) == 1 for d in distinct.tolist()], bool)
    of_day = np.array([at_midnight[d][0] for d in distinct.tolist()], np.int64)
    early = np.array(of_day[place])
    late = early.copy()
    for i in np.flatnonzero(~steady[place]).tolist():
        early[i], late[i] = _offsets(int(local[i]), zone)
    repeated, skipped = early > late, early < late
    return local - np.maximum(early, late), local - np.minimum(early, late), repeated, skipped


def _offsets(local: int, zone: ZoneInfo) -> tuple[int, int]:
    """Offset in ms of a local time when it comes first, and when it comes for the second time."""
    local = min(local, _LAST_DAY * DAY)
    time = (_EPOCH + dt.timedelta(milliseconds=local)).replace(tzinfo=zone)
    first, second = (time.replace(fold=fold).utcoffset() for fold in (0, 1))
    return tuple(int(offset / dt.timedelta(milliseconds=1)) for offset in (first, second))


def local_text(instant: int, zone: ZoneInfo | None) -> str:
    """An instant on the local clock: `2031-03-10 13:54`, seconds where there are any.

    >>> local_text(90_061_000, None)
    '1970-01-02 01:01:01'
    """
    time = _EPOCH + dt.timedelta(milliseconds=instant)
    if zone is not None:
        time = time.replace(tzinfo=dt.UTC).astimezone(zone).replace(tzinfo=None)
    form = "%Y-%m-%d %H:%M:%S" if time.second or time.microsecond else "%Y-%m-%d %H:%M"
    return time.strftime(form)


def shown_time(text: str) -> str:
    """A time as recorded, for the reader: `2031-03-10T08:22:00` as `2031-03-10 08:22`."""
    clock, offset = text[:_LENGTH_TO_SECONDS].replace("T", " "), text[_LENGTH_TO_SECONDS:]
    return (clock.removesuffix(":00") if len(clock) == _LENGTH_TO_SECONDS and not offset.startswith(".") else clock) + (
        f" {offset}" if offset[:1] in "+-" and offset else offset
    )


def shown_span(first: str, last: str) -> str:
    """From one time as shown to another; the day once where it is the same.

    >>> shown_span("2031-03-10 09:50", "2031-03-10 12:40")
    '2031-03-10 09:50 to 12:40'
    """
    if not first or not last or first == last:
        return first or last
    same_day = first[:_LENGTH_OF_DATE] == last[:_LENGTH_OF_DATE] and len(last) > _LENGTH_OF_DATE
    return f"{first} to {last[_LENGTH_OF_DATE + 1 :] if same_day else last}"
