"""Input files as numbered lines: the raw data that travel with the dossier."""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from validate.dossier import numbers
from validate.dossier.context import Listing
from validate.dossier.words import anchor_text
from validate.tables import listing as tables
from validate.tables.listing import ENDS, MOST_ROWS
from validate.vocabulary.evaluation import Evaluation, InputFile
from validate.vocabulary.problem import printable

LONGEST_LINE = 400
Lines = Sequence[tuple[int, str]]


def listings(item: InputFile, content: bytes, evaluation: Evaluation) -> list[Listing]:
    """The file as it was read: lines of a protocol, rows of a table, every sheet of a workbook that a study reads."""
    if item.role == "superseded" or item.name.endswith(".tsr"):
        return [_listing(item, "", "Not printed: a file for machines. It travels with the dossier, whole.")]
    if item.role in ("protocol", "seal"):
        text, left_out = numbered(content, {})
        return [_listing(item, text, left_out)]
    found = []
    for source in _sources(item, evaluation):
        rows = tables.listing(content, **source)
        name = f"{item.name}!{rows.sheet}" if rows.sheet else item.name
        marks = marks_of(
            (row for row, _ in rows.lines),
            [a.row for a in evaluation.amendments if a.file == name],
            [e.rows for e in evaluation.exclusions if e.file == name],
        )
        left_out = _left_out(rows.lines) if rows.omitted else rows.sentence
        found.append(replace(_listing(item, _text(rows.lines, marks), left_out), name=name))
    # The manifest points at the first; each needs an anchor of its own.
    return [found[0], *(replace(one, anchor=f"file-{anchor_text(one.name)}") for one in found[1:])]


def _sources(item: InputFile, evaluation: Evaluation) -> list[dict[str, str | None]]:
    """How the protocol says that the file is written, for each sheet of it once."""
    sources: dict[str | None, dict[str, str | None]] = {}
    for study in evaluation.protocol.get("studies", {}).values():
        data = study.get("data") or {}
        if data.get("file") == item.name:
            delimiter = "\t" if data.get("delimiter") == "tab" else data.get("delimiter")
            source = {"encoding": data.get("encoding"), "delimiter": delimiter, "sheet": data.get("sheet")}
            sources.setdefault(data.get("sheet"), source)
    return list(sources.values()) or [{}]


def _listing(item: InputFile, text: str, left_out: str) -> Listing:
    return Listing(
        anchor=f"file-{anchor_text(item.name)}",
        name=item.name,
        role=item.role,
        read_as=item.read_as,
        size=f"{numbers.whole(item.size_bytes)} bytes",
        sha256=item.sha256,
        text=text,
        left_out=left_out,
    )


def text_of(content: bytes) -> str:
    """Bytes as text: UTF-8 with or without a byte order mark, else Windows-1252."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def numbered(content: bytes, marks: Mapping[int, str]) -> tuple[str, str]:
    """The lines of a text as a listing, and a sentence on what it leaves out.

    Whole up to 5,000 lines, beyond that the first and last 100. `marks` (line → sign) stand
    before the number. Control characters are shown as escapes.
    """
    lines = [(i, line.rstrip("\n")) for i, line in enumerate(io.StringIO(text_of(content), newline=None), start=1)]
    if len(lines) <= MOST_ROWS:
        return _text(lines, marks), ""
    lines = [*lines[:ENDS], *lines[-ENDS:]]
    return _text(lines, marks), _left_out(lines)


def _left_out(lines: Lines) -> str:
    first, last, all_rows = lines[ENDS - 1][0] + 1, lines[-ENDS][0] - 1, lines[-1][0]
    return f"Lines {first} to {last} of {all_rows} are not printed; the file with the hash above holds them."


def _text(lines: Lines, marks: Mapping[int, str]) -> str:
    width = len(str(lines[-1][0])) if lines else 1
    shown = [_line(number, line, width, marks) for number, line in lines]
    if len(lines) == 2 * ENDS and lines[ENDS][0] > lines[ENDS - 1][0] + 1:
        shown.insert(ENDS, "…".rjust(width + 2))
    return "\n".join(shown)


def marks_of(rows: Iterable[int], amended: Iterable[int], excluded: Iterable[str]) -> dict[int, str]:
    """Of the listed `rows`: `A` (amended), `X` (excluded, given as ranges such as `2-4, 7`) or `B` (both)."""
    amended_rows, ranges = set(amended), [limits for text in excluded for limits in _limits(text)]
    marks = {}
    for row in rows:
        is_excluded = any(first <= row <= last for first, last in ranges)
        if row in amended_rows or is_excluded:
            marks[row] = "B" if row in amended_rows and is_excluded else "X" if is_excluded else "A"
    return marks


def _limits(ranges: str) -> list[tuple[int, int]]:
    pieces = [piece.strip().partition("-") for piece in ranges.split(",") if piece.strip()]
    return [(int(first), int(last or first)) for first, _, last in pieces]


def _line(number: int, line: str, width: int, marks: Mapping[int, str]) -> str:
    shown = printable(line.replace("\t", "    "), LONGEST_LINE)
    return f"{marks.get(number, ' ')} {str(number).rjust(width)}  {shown}".rstrip()
