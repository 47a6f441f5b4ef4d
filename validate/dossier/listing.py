"""Input files as numbered lines: the raw data that travel with the dossier."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from validate.vocabulary.problem import printable

MOST_LINES = 5_000
ENDS = 100
LONGEST_LINE = 400


def text_of(content: bytes) -> str:
    """Bytes as text: UTF-8 with or without a byte order mark, else Windows-1252."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def numbered(content: bytes, marks: Mapping[int, str]) -> tuple[str, str]:
    """The listing and a sentence on what it leaves out.

    Whole up to 5,000 lines, beyond that the first and last 100. `marks` (row → sign) stand
    before the row number. Control characters are shown as escapes.
    """
    lines = text_of(content).splitlines()
    width = len(str(len(lines)))
    if len(lines) <= MOST_LINES:
        return "\n".join(_line(i, line, width, marks) for i, line in enumerate(lines, start=1)), ""
    head = [_line(i, line, width, marks) for i, line in enumerate(lines[:ENDS], start=1)]
    first_of_tail = len(lines) - ENDS + 1
    tail = [_line(i, line, width, marks) for i, line in enumerate(lines[-ENDS:], start=first_of_tail)]
    left_out = (
        f"Lines {ENDS + 1} to {first_of_tail - 1} of {len(lines)} are not printed; "
        "the file with the hash above holds them."
    )
    return "\n".join([*head, "…".rjust(width + 2), *tail]), left_out


def rows_in(ranges: str) -> list[int]:
    """`2-4, 7` as rows; long ranges are cut at the longest listing."""
    rows: list[int] = []
    for piece in filter(None, (part.strip() for part in ranges.split(","))):
        first, _, last = piece.partition("-")
        rows.extend(range(int(first), min(int(last or first), int(first) + MOST_LINES) + 1))
    return rows


def marks_of(rows_amended: Iterable[int], ranges_excluded: Iterable[str]) -> dict[int, str]:
    """Row → `A` (amended), `X` (excluded) or `B` (both)."""
    marks = dict.fromkeys(rows_amended, "A")
    for ranges in ranges_excluded:
        for row in rows_in(ranges):
            marks[row] = "B" if marks.get(row) in ("A", "B") else "X"
    return marks


def _line(number: int, line: str, width: int, marks: Mapping[int, str]) -> str:
    shown = printable(line.replace("\t", "    "), LONGEST_LINE)
    return f"{marks.get(number, ' ')} {str(number).rjust(width)}  {shown}".rstrip()
