"""The cells of one sheet, row by row, as text with what kind of cell each text came from.

Stored values are read, not what the sheet shows: a number as the shortest decimal text
of the stored double, a number that is formatted as a date as ISO text, one formatted as
a percentage with its `%`, so that it is told and not taken for a fraction.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple

from validate.tables.archive import WorkbookRefused
from validate.tables.number_format import Section, date_text
from validate.tables.records import LONGEST_LINE
from validate.tables.workbook import SheetEntry, Workbook, unescaped
from validate.vocabulary.place import letters

LAST_ROW = 1_048_576
LAST_COLUMN = 16_384
MOST_XML_CELLS = 5_000_000
MOST_MERGED = 100_000

TEXT, NUMBER, OTHER = 1, 2, 3
"""What a cell holds: text; a number; a date, truth value or error."""
FORMULA, NO_VALUE, ROUNDED, DRESSED = 16, 32, 64, 128
"""Computed by a formula; a formula without its value; shows fewer digits than stored; shows more than the number."""

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_REFERENCE = re.compile(r"([A-Z]{1,3})([1-9]\d{0,6})", re.ASCII)
_AREA = re.compile(r"([A-Z]{1,3})([1-9]\d{0,6})(?::([A-Z]{1,3})([1-9]\d{0,6}))?", re.ASCII)
_MIDNIGHT = re.compile(r"T00:00(?::00(?:\.0+)?)?Z?$")
_PLAIN = Section("general")


class SheetRow(NamedTuple):
    """Cells that hold something, as (column from 0, text, kind with flags)."""

    row: int
    hidden: bool
    cells: list[tuple[int, str, int]]


class Merged(NamedTuple):
    """Cells merged to one; rows and columns count from 1."""

    first_row: int
    first_column: int
    last_row: int
    last_column: int

    @property
    def name(self) -> str:
        first, last = letters(self.first_column), letters(self.last_column)
        return f"{first}{self.first_row}:{last}{self.last_row}"


@dataclass
class SheetForm:
    """What is known of a sheet beside its cells, once its rows have been read."""

    merged: list[Merged] = field(default_factory=list)
    hidden_columns: list[tuple[int, int]] = field(default_factory=list)
    """First and last, from 1."""
    first_shown: dict[int, str] = field(default_factory=dict)
    """Column from 0 → how its first number with hidden digits is shown."""

    def hides(self, column: int) -> bool:
        return any(first <= column <= last for first, last in self.hidden_columns)


def sheet_rows(workbook: Workbook, sheet: SheetEntry, form: SheetForm) -> Iterator[SheetRow]:
    """The rows of `sheet` that hold anything; `form` is filled on the way. Raises WorkbookRefused."""
    handler = _Handler(workbook, form)
    for _ in workbook.parts.parsing(sheet.part, handler.start, handler.end, handler.text):
        while handler.ready:
            yield handler.ready.popleft()


class _Handler:
    def __init__(self, workbook: Workbook, form: SheetForm) -> None:
        self.ready: deque[SheetRow] = deque()
        self.form = form
        self.texts = workbook.texts
        self.formats = workbook.formats
        self.from_1904 = workbook.from_1904
        self.values_outdated = workbook.values_outdated
        self.in_data = self.in_cell = self.in_aid = self.taking = False
        self.row = self.column = self.count = 0
        self.hidden = False
        self.cells: list[tuple[int, str, int]] = []
        self.type, self.style = "n", ""
        self.pieces: list[str] = []
        self.value: str | None = None
        self.formula: str | None = None
        self.columns: dict[str, int] = {}

    def start(self, tag: str, attributes: Mapping[str, str]) -> None:
        if self.in_cell:
            self._start_in_cell(tag)
        elif self.in_data:
            if tag == "c":
                self._start_cell(attributes)
            elif tag == "row":
                self._start_row(attributes)
        elif tag == "sheetData":
            self.in_data = True
        elif tag == "mergeCell":
            self._take_merged(attributes.get("ref", ""))
        elif tag == "col" and attributes.get("hidden") in ("1", "true"):
            first, last = attributes.get("min", ""), attributes.get("max", "")
            if first.isdigit() and last.isdigit() and len(self.form.hidden_columns) < LAST_COLUMN:
                self.form.hidden_columns.append((int(first[:7]), int(last[:7])))

    def end(self, tag: str) -> None:
        if tag == "c" and self.in_cell:
            self.in_cell = self.taking = False
            self._take_cell()
        elif self.in_cell:
            self._end_in_cell(tag)
        elif tag == "row" and self.in_data:
            if self.cells:
                self.ready.append(SheetRow(self.row, self.hidden, self.cells))
        elif tag == "sheetData":
            self.in_data = False

    def text(self, text: str) -> None:
        if self.taking:
            self.pieces.append(text)

    def _start_row(self, attributes: Mapping[str, str]) -> None:
        row = _whole(attributes["r"]) if "r" in attributes else self.row + 1
        if not self.row < row <= LAST_ROW:
            raise WorkbookRefused("workbook-damaged", why=f"the rows are not in order after row {self.row}")
        self.row, self.column = row, 0
        self.hidden = attributes.get("hidden") in ("1", "true")
        self.cells = []

    def _start_cell(self, attributes: Mapping[str, str]) -> None:
        self.count += 1
        if self.count > MOST_XML_CELLS:
            raise WorkbookRefused("workbook-sheet-too-long", limit=f"{MOST_XML_CELLS:,} cells")
        column = self._column_of(attributes["r"]) if "r" in attributes else self.column + 1
        if not self.column < column <= LAST_COLUMN:
            raise WorkbookRefused("workbook-damaged", why=f"the cells of row {self.row} are not in order")
        self.column = column
        self.in_cell = True
        self.type, self.style = attributes.get("t", "n"), attributes.get("s", "")
        self.value = self.formula = None

    def _column_of(self, reference: str) -> int:
        match = _REFERENCE.fullmatch(reference)
        if match is None or int(match[2]) != self.row:
            raise WorkbookRefused("workbook-damaged", why=f"a cell in row {self.row} has no proper name")
        name = match[1]
        if name not in self.columns:
            self.columns[name] = _column_number(name)
        return self.columns[name]

    def _start_in_cell(self, tag: str) -> None:
        if tag == "rPh":
            self.in_aid = True
        elif tag in ("v", "f") or (tag == "t" and not self.in_aid):
            self.taking = True
            self.pieces = []

    def _end_in_cell(self, tag: str) -> None:
        if tag == "rPh":
            self.in_aid = False
        elif self.taking and tag in ("v", "f", "t"):
            self.taking = False
            text = "".join(self.pieces)
            if len(text) > LONGEST_LINE:
                raise WorkbookRefused("workbook-damaged", why=f"a cell in row {self.row} holds too much text")
            if tag == "f":
                self.formula = text
            elif tag == "v":
                self.value = text
            else:
                self.value = (self.value or "") + text

    def _take_cell(self) -> None:
        text, kind = self._text_and_kind()
        if self.formula is not None:
            kind |= FORMULA
            # A computed empty text keeps its type; without it nothing was ever computed.
            if self.values_outdated or self.value is None or (not self.value and self.type != "str"):
                text, kind = f"={self.formula.strip()}", OTHER | FORMULA | NO_VALUE
        if text and not text.isspace():
            self.cells.append((self.column - 1, text, kind))

    def _text_and_kind(self) -> tuple[str, int]:
        value = self.value or ""
        if self.type == "n":
            return self._number(value)
        if self.type == "s":
            number = _whole(value)
            if not 0 <= number < len(self.texts):
                raise WorkbookRefused("workbook-damaged", why=f"a text of row {self.row} is missing")
            return self.texts[number], TEXT
        if self.type == "b":
            return "TRUE" if value == "1" else "FALSE", OTHER
        if self.type == "d":
            return _MIDNIGHT.sub("", value).replace("T", " "), OTHER
        return unescaped(value), OTHER if self.type == "e" else TEXT

    def _number(self, value: str) -> tuple[str, int]:
        if not value:
            return "", 0
        if not _NUMBER.fullmatch(value):
            return value, OTHER
        number = float(value)
        text = repr(number).removesuffix(".0")
        section = self._section(number)
        if section.kind in ("date", "time"):
            return date_text(number, section.kind, from_1904=self.from_1904), OTHER
        if section.kind == "percent":
            return f"{(Decimal(text) * 100).normalize():f}%", OTHER
        kind = NUMBER | (DRESSED if section.adds_text else 0)
        if section.kind != "general" and section.rounds(text):
            kind |= ROUNDED
            if self.column - 1 not in self.form.first_shown:
                shown = "another text" if section.kind == "other" else f"{section.shown(text):f}"
                self.form.first_shown[self.column - 1] = shown
        return text, kind

    def _section(self, number: float) -> Section:
        style = _whole(self.style) if self.style else 0
        return self.formats[style].section(number) if 0 <= style < len(self.formats) else _PLAIN

    def _take_merged(self, reference: str) -> None:
        match = _AREA.fullmatch(reference)
        if match and len(self.form.merged) < MOST_MERGED:
            first, row, last, last_row = match.groups()
            last, last_row = last or first, last_row or row
            self.form.merged.append(Merged(int(row), _column_number(first), int(last_row), _column_number(last)))


def _column_number(name: str) -> int:
    number = 0
    for letter in name:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def _whole(text: str) -> int:
    return int(text) if len(text) < 8 and text.isascii() and text.isdigit() else -1
