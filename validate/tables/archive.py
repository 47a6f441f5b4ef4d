"""A workbook file as bounded parts: what it may hold, and how large it may be, is checked before it is read.

An XLSX workbook is a zip archive of XML parts (ECMA-376, part 2). Nothing is unpacked to
disk, no macro is run, no link is followed. Sizes are bounded twice: as the archive
declares them, and as they come.
"""

from __future__ import annotations

import io
import posixpath
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from xml.parsers import expat

LARGEST_PART_BYTES = 128_000_000
LARGEST_ALL_BYTES = 256_000_000
MOST_PARTS = 2_000
HIGHEST_RATIO = 200
"""Unpacked size to packed size of one part; tables of numbers reach 10 to 30."""
_SMALL_PART_BYTES = 1_000_000
_LARGEST_TOKEN_BYTES = 4_000_000
_CHUNK_BYTES = 262_144
_OLE_START = b"\xd0\xcf\x11\xe0"
_ENCRYPTED_STREAM = "EncryptedPackage".encode("utf-16-le")
_ENTRY_START = b"PK\x01\x02"
_DAMAGE = (
    zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, struct.error, NotImplementedError, RuntimeError,
    ValueError, OverflowError, OSError, EOFError, IndexError, KeyError,
)  # fmt: skip

StartHandler = Callable[[str, Mapping[str, str]], None]
EndHandler = Callable[[str], None]
TextHandler = Callable[[str], None]


class WorkbookRefused(Exception):
    """The workbook cannot be read; `code` as in problems.toml."""

    def __init__(self, code: str, **values: object) -> None:
        self.code = code
        self.values = values
        super().__init__(code)


class Parts:
    """The parts of a workbook. Raises WorkbookRefused for anything that is no plain, bounded XLSX file."""

    def __init__(self, content: bytes) -> None:
        _refuse_other_kinds(content)
        if content.count(_ENTRY_START) > MOST_PARTS:
            raise WorkbookRefused("workbook-too-many-parts", limit=f"{MOST_PARTS:,}")
        try:
            self._archive = zipfile.ZipFile(io.BytesIO(content))
            self._entries = {entry.filename: entry for entry in self._archive.infolist()}
        except _DAMAGE:
            raise WorkbookRefused("workbook-damaged", why="the archive cannot be opened") from None
        self._check(self._archive.infolist(), len(content))

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self._entries)

    def __contains__(self, name: str) -> bool:
        return name in self._entries

    def chunks(self, name: str) -> Iterator[bytes]:
        """The unpacked bytes of a part, piece by piece."""
        taken = 0
        try:
            with self._archive.open(self._entries[name]) as stream:
                while chunk := stream.read(_CHUNK_BYTES):
                    taken += len(chunk)
                    if taken > LARGEST_PART_BYTES:
                        raise _too_large(name)
                    yield chunk
        except _DAMAGE:
            raise WorkbookRefused("workbook-damaged", why=f"the part {name} cannot be unpacked") from None

    def parse(self, name: str, start: StartHandler, end: EndHandler | None = None, text: TextHandler | None = None):
        """Hand the elements of an XML part to the handlers; names come without their namespace prefix."""
        for _ in self.parsing(name, start, end, text):
            pass

    def parsing(
        self, name: str, start: StartHandler, end: EndHandler | None = None, text: TextHandler | None = None
    ) -> Iterator[None]:
        """As `parse`, pausing after every piece so that a caller can take what has come."""
        if name not in self:
            raise WorkbookRefused("workbook-damaged", why=f"the part {name} is missing")
        parser = expat.ParserCreate()
        parser.buffer_text = True
        parser.StartDoctypeDeclHandler = _refuse_declarations
        parser.StartElementHandler = lambda tag, attributes: start(tag.rpartition(":")[2], attributes)
        if end is not None:
            parser.EndElementHandler = lambda tag: end(tag.rpartition(":")[2])
        if text is not None:
            parser.CharacterDataHandler = text
        fed = 0
        try:
            for chunk in self.chunks(name):
                parser.Parse(chunk, False)
                fed += len(chunk)
                # A token that does not end would be read again from its start with every piece.
                if fed - max(parser.CurrentByteIndex, 0) > _LARGEST_TOKEN_BYTES:
                    raise WorkbookRefused("workbook-damaged", why=f"the part {name} holds an endless piece")
                yield
            parser.Parse(b"", True)
            yield
        except (expat.ExpatError, LookupError, ValueError):
            raise WorkbookRefused("workbook-damaged", why=f"the part {name} is not well-formed XML") from None

    def _check(self, entries: list[zipfile.ZipInfo], size: int) -> None:
        folded = [entry.filename.casefold() for entry in entries]
        if len(set(folded)) < len(folded):
            raise WorkbookRefused("workbook-damaged", why="two parts have the same name")
        if any(entry.flag_bits & 0x1 for entry in entries):
            raise WorkbookRefused("workbook-encrypted")
        if any(entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for entry in entries):
            raise WorkbookRefused("workbook-damaged", why="it is packed in a way that no workbook is")
        _check_sizes(entries, size)
        if any(name.endswith("vbaproject.bin") or name.startswith("xl/macrosheets/") for name in folded):
            raise WorkbookRefused("workbook-macros")
        if "xl/workbook.bin" in folded or "mimetype" in folded:
            raise WorkbookRefused("workbook-other-kind")
        if "[content_types].xml" not in folded or "_rels/.rels" not in folded:
            raise WorkbookRefused("workbook-none")


def _refuse_other_kinds(content: bytes) -> None:
    if content.startswith(_OLE_START):
        raise WorkbookRefused("workbook-encrypted" if _ENCRYPTED_STREAM in content else "workbook-other-kind")
    if not content.startswith(b"PK\x03\x04"):
        raise WorkbookRefused("workbook-none")


def _check_sizes(entries: list[zipfile.ZipInfo], size: int) -> None:
    for entry in entries:
        swollen = entry.file_size > HIGHEST_RATIO * max(entry.compress_size, 1)
        if entry.file_size > LARGEST_PART_BYTES or (swollen and entry.file_size > _SMALL_PART_BYTES):
            raise _too_large(entry.filename)
    if sum(entry.file_size for entry in entries) > LARGEST_ALL_BYTES:
        raise _too_large("all parts together")
    if sum(entry.compress_size for entry in entries) > size:
        raise WorkbookRefused("workbook-damaged", why="its parts overlap")


def _too_large(part: str) -> WorkbookRefused:
    return WorkbookRefused("workbook-too-large", part=part, limit=f"{LARGEST_PART_BYTES / 1e6:.0f} MB")


def _refuse_declarations(*_: object) -> None:
    raise WorkbookRefused("workbook-declarations")


def resolved(source: str, target: str) -> str:
    """The name of the part that `target` means in the relations of the part `source`."""
    if target.startswith("/"):
        return posixpath.normpath(target).lstrip("/")
    return posixpath.normpath(posixpath.join(posixpath.dirname(source), target))
