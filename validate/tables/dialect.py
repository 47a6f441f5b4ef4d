"""How a table is written: text encoding, column separator, decimal sign; declared or detected, and told."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice

SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}
_SAMPLE_CHARACTERS = 65_536
_SAMPLE_RECORDS = 50
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8 with byte order mark"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16 with byte order mark"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16 with byte order mark"),
)


class Undecodable(ValueError):
    """The bytes are not text in the encoding that was declared or is left to try."""

    def __init__(self, encoding: str, line: int, byte: int) -> None:
        self.encoding, self.line, self.byte = encoding, line, byte
        super().__init__(f"byte 0x{byte:02X} in line {line} is not {encoding}")


@dataclass(frozen=True)
class Text:
    """A file as text; `assumed` is true when the encoding is the last resort and nobody declared it."""

    text: str
    encoding: str
    assumed: bool = False


@dataclass(frozen=True)
class Dialect:
    """How the table was read. The sentence goes into the dossier."""

    encoding: str
    delimiter: str
    delimiter_declared: bool
    decimal: str
    decimal_declared: bool

    @property
    def sentence(self) -> str:
        separator = f"columns separated by {SEPARATORS[self.delimiter]} ({_how(self.delimiter_declared)})"
        sign = f"decimal {'comma' if self.decimal == ',' else 'point'} ({_how(self.decimal_declared)})"
        return f"Read as {self.encoding} text, {separator}, {sign}."


def _how(declared: bool) -> str:
    return "declared" if declared else "detected"


def decode(content: bytes, declared: str | None = None) -> Text:
    """Bytes as text: byte order mark, then UTF-8, then the declared encoding, else Windows-1252.

    Raises Undecodable with the line of the first byte that does not fit.
    """
    for mark, codec, words in _MARKS:
        if content.startswith(mark):
            return Text(_strict(content, codec, words), words)
    try:
        return Text(content.decode("utf-8"), "UTF-8")
    except UnicodeDecodeError:
        if declared == "utf-8":
            return Text(_strict(content, "utf-8", "UTF-8"), "UTF-8")
    return Text(_strict(content, "cp1252", "Windows-1252"), "Windows-1252", assumed=declared is None)


def _strict(content: bytes, codec: str, words: str) -> str:
    try:
        return content.decode(codec)
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise Undecodable(words, line, content[error.start]) from None


def detect_delimiter(text: str) -> str:
    """The separator under which most of the first rows have as many cells as the header.

    With one column (no separator found) a comma is assumed.
    """
    sample = text[:_SAMPLE_CHARACTERS]
    best, best_score = ",", (0, 1)
    for delimiter in SEPARATORS:
        widths = _widths(sample, delimiter)
        if widths and widths[0] > 1:
            score = (sum(w == widths[0] for w in widths), widths[0])
            if score > best_score or best_score == (0, 1):
                best, best_score = delimiter, score
    return best


def _widths(sample: str, delimiter: str) -> list[int]:
    reader = csv.reader(io.StringIO(sample, newline=""), delimiter=delimiter)
    try:
        records = [record for record in islice(reader, 2 * _SAMPLE_RECORDS) if any(record)]
    except csv.Error:
        return []
    if len(sample) == _SAMPLE_CHARACTERS and len(records) > 1:
        records.pop()
    return [len(record) for record in records[:_SAMPLE_RECORDS]]


_COMMA = re.compile(r"[<>]?\s*[+-]?\d[\d.]*,\d+|[<>]?\s*[+-]?,\d+", re.ASCII)
_POINT = re.compile(r"[<>]?\s*[+-]?\d*\.\d+(?:[eE][+-]?\d+)?", re.ASCII)
_GROUPED = re.compile(r"[<>]?\s*[+-]?[1-9]\d{0,2}(?:,\d{3})+", re.ASCII)


@dataclass(frozen=True)
class DecimalSign:
    sign: str
    unclear: str = ""
    """A cell that shows why nobody can tell, for example `1,234`; empty when it is clear."""


def detect_decimal(columns: Iterable[Iterable[str]], delimiter: str) -> DecimalSign:
    """The decimal sign of the cells in number columns.

    In a comma-separated file it is the point: a comma would be too easily a damaged
    row. Elsewhere the more frequent sign counts, so that the rarer one is reported cell by
    cell. Commas that could all be thousands signs (`1,234`) are unclear.
    """
    if delimiter == ",":
        return DecimalSign(".")
    commas: list[str] = []
    points = 0
    for cells in columns:
        for cell in cells:
            if "," in cell:
                if _COMMA.fullmatch(cell):
                    commas.append(cell)
            elif "." in cell and _POINT.fullmatch(cell):
                points += 1
    if len(commas) <= points:
        return DecimalSign(".")
    if not points and all(map(_GROUPED.fullmatch, commas)):
        return DecimalSign(",", unclear=commas[0])
    return DecimalSign(",")
