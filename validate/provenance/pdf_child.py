"""Read attachments and printed lines of an untrusted PDF, in a process of its own with bounded memory and time.

Run as a module with the path of the PDF; the answer is JSON on standard output. Nothing is
written, no path of the file is used, no code in it runs.
"""

from __future__ import annotations

import base64
import json
import re
import sys
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

MEMORY_BYTES = 1_500_000_000
CPU_SECONDS = 60
LARGEST_PDF_BYTES = 400_000_000
LARGEST_ATTACHMENT_BYTES = 100_000_000
LARGEST_TOGETHER_BYTES = 200_000_000
LARGEST_PAGE_BYTES = 20_000_000
LARGEST_PAGES_BYTES = 100_000_000
MOST_ATTACHMENTS = 500
MOST_PAGES = 5_000
DEEPEST = 60
_SET_BY_STYLE = re.compile(r"[•\s\d.]*|, page \d+")
_CHARS = re.compile(rb"beginbfchar(.*?)endbfchar", re.DOTALL)
_CHAR = re.compile(rb"<([0-9a-fA-F]+)>\s*<([0-9a-fA-F]*)>")


class Damaged(Exception):
    """The file is not a PDF that can be read; the message says why."""


def main() -> None:
    _bound_resources()
    try:
        answer = read(Path(sys.argv[1]))
    except Damaged as damage:
        answer = {"damaged": str(damage)}
    except MemoryError:
        answer = {"damaged": "it unpacks to more than a dossier may carry"}
    except Exception as error:
        answer = {"damaged": f"its structure is broken ({type(error).__name__})"}
    json.dump(answer, sys.stdout)


def read(path: Path) -> dict[str, Any]:
    """Attachments (name, content in base64, relationship), printed lines by page, what a dossier never has."""
    import pikepdf

    content = path.read_bytes() if path.stat().st_size <= LARGEST_PDF_BYTES else b""
    if not content[:1024].lstrip().startswith(b"%PDF-"):
        raise Damaged("it is no PDF, or too large for one")
    try:
        pdf = pikepdf.open(path)
    except pikepdf.PasswordError:
        raise Damaged("it is encrypted") from None
    except pikepdf.PdfError:
        raise Damaged("its structure is broken") from None
    if pdf.is_encrypted:
        raise Damaged("it is encrypted")
    if len(pdf.pages) > MOST_PAGES:
        raise Damaged(f"it has more than {MOST_PAGES} pages")
    lines = Lines(pdf)
    pages = lines.by_page()
    return {
        "attachments": list(attachments(pdf)),
        "pages": pages,
        "heads": lines.outside_the_tree(),
        "strange": strange(pdf),
    }


def attachments(pdf: Any) -> Iterator[dict[str, str]]:
    """Every embedded file of the name tree, unpacked within bounds."""
    left = LARGEST_TOGETHER_BYTES
    tree = pdf.Root.get("/Names", {}).get("/EmbeddedFiles")
    specs = list(_leaves(tree, 0)) if tree is not None else []
    for name, spec in specs:
        stream = spec.EF.F
        content = _unpacked(stream, min(left, LARGEST_ATTACHMENT_BYTES))
        left -= len(content)
        yield {
            "name": str(spec.get("/UF", name)),
            "relationship": str(spec.get("/AFRelationship", "")).lstrip("/"),
            "content": base64.b64encode(content).decode("ascii"),
        }


def _leaves(node: Any, depth: int) -> Iterator[tuple[str, Any]]:
    if depth > DEEPEST:
        raise Damaged("its list of attachments is too deep")
    names = node.get("/Names", [])
    if len(names) > 2 * MOST_ATTACHMENTS:
        raise Damaged(f"it has more than {MOST_ATTACHMENTS} attachments")
    for i in range(0, len(names) - 1, 2):
        yield str(names[i]), names[i + 1]
    for kid in node.get("/Kids", []):
        yield from _leaves(kid, depth + 1)


def _unpacked(stream: Any, most: int) -> bytes:
    """The content of a stream that is plain or packed with Flate, as dossiers are; never more than `most` bytes."""
    filters = stream.get("/Filter", [])
    names = [str(name) for name in (filters if _is_list(filters) else [filters] if filters != [] else [])]
    raw = stream.read_raw_bytes()
    if not names:
        content = raw[: most + 1]
    elif names == ["/FlateDecode"] and "/DecodeParms" not in stream:
        try:
            content = zlib.decompressobj().decompress(raw, most + 1)
        except zlib.error:
            raise Damaged("a part of it cannot be unpacked") from None
    else:
        raise Damaged("a part of it is packed in a way that no dossier is")
    if len(content) > most:
        raise Damaged("it unpacks to more than a dossier may carry")
    return content


def strange(pdf: Any) -> list[str]:
    """What a dossier never has: scripts, actions, forms, notes on the pages, layers."""
    told = []
    for key, what in (("/OpenAction", "an action on opening"), ("/AA", "actions"), ("/AcroForm", "form fields"),
                      ("/OCProperties", "layers that can be hidden")):  # fmt: skip
        if key in pdf.Root and not _is_signature(pdf, key):
            told.append(f"the PDF has {what}")
    if "/JavaScript" in pdf.Root.get("/Names", {}):
        told.append("the PDF has scripts")
    for number, page in enumerate(pdf.pages, start=1):
        for note in page.get("/Annots", []):
            kind = str(note.get("/Subtype", ""))
            if (kind != "/Link" or "/A" in note or "/AP" in note) and kind != "/Widget":
                told.append(f"page {number} has a note or link that is not the dossier's ({kind.lstrip('/')})")
    return told[:20]


def _is_signature(pdf: Any, key: str) -> bool:
    """A form that holds nothing but signature fields: a dossier may be signed."""
    if key != "/AcroForm":
        return False
    return all(str(field.get("/FT", "")) == "/Sig" for field in pdf.Root.AcroForm.get("/Fields", []))


class Lines:
    """The printed lines of a tagged PDF in the order in which they are read aloud."""

    def __init__(self, pdf: Any) -> None:
        self._pdf = pdf
        self._fonts: dict[Any, dict[int, str]] = {}
        self._marked: dict[Any, dict[int, str]] = {}
        self._number: dict[Any, int] = {}
        self._pages: list[list[str]] = []
        self._last_head: list[tuple[int, str]] = []
        self._bytes_left = LARGEST_PAGES_BYTES

    def by_page(self) -> list[list[str]]:
        tree = self._pdf.Root.get("/StructTreeRoot")
        if tree is None:
            return []
        for number, page in enumerate(self._pdf.pages):
            self._marked[page.objgen] = self._marked_text(page)
            self._number[page.objgen] = number
        self._pages = [[] for _ in self._pdf.pages]
        for number, line in self._walk(tree.K, None, ()):
            self._pages[number].append(line)
        return self._pages

    def outside_the_tree(self) -> list[str]:
        """For each page the text that is read aloud nowhere: its running head and foot."""
        return ["".join(text for _, text in sorted(marked.items())) for marked in self._marked.values()]

    def _walk(self, node: Any, page: Any, above: tuple[str, ...]) -> Iterator[tuple[int, str]]:
        if len(above) > DEEPEST:
            raise Damaged("its structure is too deep")
        if isinstance(node, int):
            yield self._number[page], self._marked[page].pop(node, "")
        elif _is_list(node):
            for kid in node:
                yield from self._walk(kid, page, above)
        elif "/S" in node:
            yield from self._element(node, page, above)

    def _element(self, node: Any, page: Any, above: tuple[str, ...]) -> Iterator[tuple[int, str]]:
        kind = str(node.S)
        page = node.Pg.objgen if "/Pg" in node else page
        lines = self._walk(node.get("/K", []), page, (*above, kind))
        if kind == "/THead":
            lines = self._unless_repeated(node, list(lines))
        if kind == "/Figure":  # a picture, told in words beside it
            lines = list(lines)[:0]
        elif kind == "/Lbl" or (kind == "/Link" and "/Link" in above):
            # Marks of list items and page numbers behind links come from the style sheet.
            lines = [line for line in lines if not _SET_BY_STYLE.fullmatch(line[1])]
        yield from lines

    def _unless_repeated(self, head: Any, lines: list[tuple[int, str]]) -> list[tuple[int, str]]:
        """The head of a table, unless it is set again above a part of the table on another page."""
        kids = head.P.K if _is_list(head.P.K) else [head.P.K]
        captioned = any(not isinstance(kid, int) and str(kid.get("/S", "")) == "/Caption" for kid in kids)
        repeated = not captioned and [text for _, text in lines] == [text for _, text in self._last_head]
        self._last_head = lines
        return [] if repeated else lines

    def _marked_text(self, page: Any) -> dict[int, str]:
        """Text of each piece of marked content of a page; what is marked as nothing counts as piece -1."""
        import pikepdf

        texts: dict[int, str] = {}
        marks: list[int | None] = []
        font: dict[int, str] = {}
        content = self._pdf.make_stream(self._content(page))
        for operands, operator in pikepdf.parse_content_stream(content, "BDC BMC EMC Tf Tj TJ"):
            name = str(operator)
            if name in ("BDC", "BMC"):
                properties = operands[1] if name == "BDC" else None
                has_number = isinstance(properties, pikepdf.Dictionary) and "/MCID" in properties
                marks.append(int(properties.MCID) if has_number else None)
            elif name == "EMC":
                del marks[-1:]
            elif name == "Tf":
                font = self._font(page.Resources.Font[str(operands[0])])
            else:
                number = next((mark for mark in reversed(marks) if mark is not None), -1)
                texts[number] = texts.get(number, "") + _text(operands[0], font)
        return texts

    def _content(self, page: Any) -> bytes:
        """The drawing instructions of a page, unpacked within bounds."""
        contents = page.obj.get("/Contents", [])
        pieces = []
        for stream in contents if _is_list(contents) else [contents]:
            pieces.append(_unpacked(stream, min(LARGEST_PAGE_BYTES, self._bytes_left)))
            self._bytes_left -= len(pieces[-1])
        return b"\n".join(pieces)

    def _font(self, font: Any) -> dict[int, str]:
        if font.objgen not in self._fonts:
            mapping = _unpacked(font.ToUnicode, 10_000_000)
            pairs = (pair for block in _CHARS.findall(mapping) for pair in _CHAR.findall(block))
            self._fonts[font.objgen] = {
                int(code, 16): bytes.fromhex(text.decode()).decode("utf-16-be", "replace") for code, text in pairs
            }
        return self._fonts[font.objgen]


def _is_list(node: Any) -> bool:
    import pikepdf

    return isinstance(node, pikepdf.Array)


def _text(shown: Any, font: dict[int, str]) -> str:
    import pikepdf

    pieces = shown if _is_list(shown) else [shown]
    codes = (bytes(piece) for piece in pieces if isinstance(piece, pikepdf.String))
    return "".join(
        font.get(int.from_bytes(code[i : i + 2], "big"), "�") for code in codes for i in range(0, len(code), 2)
    )


def _bound_resources() -> None:
    try:
        import resource
    except ImportError:  # no such bounds on this system; the caller's time limit still holds
        return
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS))


if __name__ == "__main__":
    main()
