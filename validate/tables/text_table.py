"""A text table (CSV) as records, with what is to be said of how it is written."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from validate.protocol.settings import DataSource
from validate.tables.columns import FileColumn
from validate.tables.dialect import DecimalSign, Dialect, Text, Undecodable, decode, detect_decimal, detect_delimiter
from validate.tables.faults import PROBLEMS, Fault
from validate.tables.header import later_header
from validate.tables.records import Records, read_records
from validate.tables.sheet import Sheet
from validate.vocabulary.place import Place
from validate.vocabulary.problem import InputRefused

_BINARY_STARTS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0", b"%PDF", b"\x89PNG", b"\xff\xd8\xff", b"\x1f\x8b", b"{\\rtf")


class TextTable:
    """The text table in `content`; raises InputRefused when the bytes are no text."""

    sheet_name = ""
    problems = ()

    def __init__(self, content: bytes, source: DataSource, shown: str) -> None:
        self._text = _text(content, source, shown)
        self._source = source
        declared = "\t" if source.delimiter == "tab" else source.delimiter
        self._delimiter = declared or detect_delimiter(self._text.text)

    @property
    def delimiter(self) -> str:
        return self._delimiter

    @property
    def encoding(self) -> str:
        """As the table may be written again so that it is read alike."""
        return self._source.encoding or "utf-8"

    @cached_property
    def records(self) -> Records:
        return read_records(self._text.text, self._delimiter)

    def later_header(self, names: Sequence[str]) -> Fault | None:
        """Where the header is, when the first row has none of `names`."""
        return later_header(self._text.text, self._delimiter, self.records, names)

    def decimal_sign(self, numeric: Sequence[FileColumn]) -> DecimalSign:
        """The decimal sign, declared or detected."""
        if self._source.decimal is not None:
            return DecimalSign(self._source.decimal)
        return detect_decimal((self.records.column(column.position) for column in numeric), self._delimiter)

    def notices(self, read: Sequence[FileColumn]) -> list[Fault]:
        """What is to be said before the cells are looked at."""
        return [Fault("table-encoding-assumed", None)] if self._text.assumed else []

    def check_cells(self, sheet: Sheet) -> list[Fault]:
        """A text cell has no kind beside its text."""
        return []

    def sentence(self, decimal: str) -> str:
        source = self._source
        declared = source.delimiter is not None, source.decimal is not None
        return Dialect(self._text.encoding, self._delimiter, declared[0], decimal, declared[1]).sentence


def _text(content: bytes, source: DataSource, shown: str) -> Text:
    if content.startswith(_BINARY_STARTS):
        raise InputRefused([PROBLEMS.problem("table-binary", Place(shown))])
    try:
        text = decode(content, source.encoding)
    except Undecodable as error:
        values = {"encoding": error.encoding, "byte": f"0x{error.byte:02X}"}
        raise InputRefused([PROBLEMS.problem("table-encoding", Place(shown, error.line), **values)]) from None
    if "\0" in text.text:
        line = text.text.count("\n", 0, text.text.index("\0")) + 1
        raise InputRefused([PROBLEMS.problem("table-binary", Place(shown, line))])
    if not text.text.strip():
        raise InputRefused([PROBLEMS.problem("table-empty", Place(shown))])
    return text
