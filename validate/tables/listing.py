"""The raw data as numbered lines for the dossier: what was read, not what was made of it."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from validate.tables.dialect import Undecodable, decode, detect_delimiter
from validate.tables.records import spans

MOST_ROWS = 5_000
ENDS = 100


@dataclass(frozen=True)
class Listing:
    """Rows of a file as (row, text); `omitted` rows between the first and the last 100 are left out."""

    lines: tuple[tuple[int, str], ...]
    omitted: int

    @property
    def sentence(self) -> str:
        """What is left out, in words; empty when the listing is whole."""
        if not self.omitted:
            return ""
        first, last = self.lines[ENDS - 1][0] + 1, self.lines[-ENDS][0] - 1
        return (
            f"Rows {first:,} to {last:,} are not printed ({self.omitted:,} rows); "
            "the attached file with the hash above holds them."
        )


def listing(content: bytes, *, encoding: str | None = None, delimiter: str | None = None) -> Listing:
    """The rows of a table as written, numbered as in messages and findings.

    Whole up to 5,000 rows, beyond that the first and last 100. A line break inside quotes
    is shown as `⏎`, so that a row stays a line; other characters are as in the file, and
    whoever prints them escapes them. `encoding` (as declared in the protocol) and
    `delimiter` are detected when absent; bytes that are no text are shown as `�`.
    """
    try:
        text = decode(content, encoding).text
    except Undecodable:
        text = content.decode("utf-8", errors="replace")
    rows = spans(text, delimiter or detect_delimiter(text))
    head: list[tuple[int, str]] = []
    tail: deque[tuple[int, str]] = deque(maxlen=ENDS)
    count = 0
    for count, row in enumerate(rows, start=1):
        (head if count <= MOST_ROWS else tail).append((count, row))
    if count <= MOST_ROWS:
        return Listing(tuple(head), 0)
    last = [*head, *tail][-ENDS:]
    return Listing((*head[:ENDS], *last), count - 2 * ENDS)
