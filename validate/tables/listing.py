"""The raw data as numbered lines for the dossier: what was read, not what was made of it."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass

from validate.tables.archive import WorkbookRefused
from validate.tables.dialect import Undecodable, decode, detect_delimiter
from validate.tables.faults import PROBLEMS
from validate.tables.records import spans
from validate.tables.sheet_table import only_sheet
from validate.tables.workbook import Workbook
from validate.tables.worksheet import SheetForm, SheetRow, sheet_rows

MOST_ROWS = 5_000
ENDS = 100
_WORKBOOK_START = b"PK\x03\x04"


@dataclass(frozen=True)
class Listing:
    """Rows of a file as (row, text); `omitted` rows between the first and the last 100 are left out."""

    lines: tuple[tuple[int, str], ...]
    omitted: int
    sheet: str = ""
    """The sheet of a workbook that is listed."""
    unread: str = ""
    """Why a workbook cannot be listed."""

    @property
    def sentence(self) -> str:
        """What is left out, in words; empty when the listing is whole."""
        if not self.omitted:
            return self.unread
        first, last = self.lines[ENDS - 1][0] + 1, self.lines[-ENDS][0] - 1
        return (
            f"Rows {first:,} to {last:,} are not printed ({self.omitted:,} rows); "
            "the attached file with the hash above holds them."
        )


def listing(
    content: bytes, *, encoding: str | None = None, delimiter: str | None = None, sheet: str | None = None
) -> Listing:
    """The rows of a table as written, numbered as in messages and findings.

    Whole up to 5,000 rows, beyond that the first and last 100. A line break inside quotes
    is shown as `⏎`, so that a row stays a line; other characters are as in the file, and
    whoever prints them escapes them. `encoding` (as declared in the protocol) and
    `delimiter` are detected when absent; bytes that are no text are shown as `�`. Of a
    workbook the stored values of `sheet` (the only one when absent) are listed, cells
    separated by tabs; rows without a cell are passed over.
    """
    if content.startswith(_WORKBOOK_START):
        return _sheet_listing(content, sheet)
    try:
        text = decode(content, encoding).text
    except Undecodable:
        text = content.decode("utf-8", errors="replace")
    return _cut(enumerate(spans(text, delimiter or detect_delimiter(text)), start=1))


def _cut(rows: Iterable[tuple[int, str]], sheet: str = "") -> Listing:
    head: list[tuple[int, str]] = []
    tail: deque[tuple[int, str]] = deque(maxlen=ENDS)
    count = 0
    for count, row in enumerate(rows, start=1):
        (head if count <= MOST_ROWS else tail).append(row)
    if count <= MOST_ROWS:
        return Listing(tuple(head), 0, sheet)
    last = [*head, *tail][-ENDS:]
    return Listing((*head[:ENDS], *last), count - 2 * ENDS, sheet)


def _sheet_listing(content: bytes, name: str | None) -> Listing:
    try:
        workbook = Workbook(content)
        named = next((sheet for sheet in workbook.sheets if sheet.name == name), None)
        sheet = only_sheet(workbook) if name is None else named
        if sheet is None:
            return Listing((), 0, unread="Not listed: a workbook of several sheets, of which no study names one.")
        return _cut(map(_row_text, sheet_rows(workbook, sheet, SheetForm())), sheet.name)
    except WorkbookRefused as refused:
        return Listing((), 0, unread=f"Not listed: {PROBLEMS.entries[refused.code]['title']}.")


def _row_text(row: SheetRow) -> tuple[int, str]:
    texts = {column: text for column, text, _ in row.cells}
    cells = (texts.get(column, "") for column in range(row.cells[-1][0] + 1))
    return row.row, "\t".join("⏎".join(cell.replace("\t", " ").splitlines()) for cell in cells)
