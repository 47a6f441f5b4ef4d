"""The words of a dossier's page as plain text, and whether printed lines say the same.

A PDF breaks words into lines, repeats the head of a table on its next page and moves a side
note that does not fit; its letters come back from glyphs. So lines are compared by what
carries meaning: Latin letters, digits and signs, without spaces and accents.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from html.parser import HTMLParser

_ROWS = {"tr", "p", "li", "h1", "h2", "h3", "h4", "caption", "figcaption", "pre", "title"}
_CELLS = {"td", "th"}
_UNSEEN = {"style", "script", "svg", "head", "template"}
_VOID = {"br", "meta", "link", "img", "hr", "input", "wbr", "col"}
_SIGNS = {"−": "-", "–": "-", "—": "-", "‐": "-", "‑": "-", "≤": "≤", "≥": "≥", "±": "±", "×": "×", "√": "√"}
FARTHEST = 20_000
"""How many characters a side note may be moved past a page's end."""


def page_text(html: bytes) -> str:
    """What a reader of the printed page reads, one line for each paragraph, heading, item and table row.

    Pictures, scripts, what only the screen shows (class `screen`) and the running heads are left out;
    cells of a row are set apart by ` | `.
    """
    reader = _Reader()
    reader.feed(html.decode("utf-8"))
    lines = (re.sub(r"\s+", " ", line).strip(" |") for line in "".join(reader.pieces).split("\n"))
    return "\n".join(line for line in lines if line) + "\n"


class _Reader(HTMLParser):
    """Collects the text of an HTML page, with line ends and cell marks."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.pieces: list[str] = []
        self._open: list[tuple[str, bool]] = []
        self._in_listing = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        classes = (dict(attrs).get("class") or "").split()
        unseen = tag in _UNSEEN or not {"skip", "running", "screen"}.isdisjoint(classes)
        if tag not in _VOID:
            self._open.append((tag, unseen))
        self._in_listing += tag == "pre"
        self._mark(tag)

    def handle_endtag(self, tag: str) -> None:
        while self._open:
            last, _ = self._open.pop()
            if last == tag:
                break
        self._in_listing -= tag == "pre"
        if tag in _ROWS:
            self.pieces.append("\n")

    def handle_data(self, data: str) -> None:
        if not any(unseen for _, unseen in self._open):
            self.pieces.append(data if self._in_listing else data.replace("\n", " "))

    def _mark(self, tag: str) -> None:
        if tag in _ROWS:
            self.pieces.append("\n")
        elif tag in _CELLS:
            self.pieces.append(" | ")
        elif tag == "br":
            self.pieces.append(" ")


def essence(text: str) -> str:
    """`text` as it is compared: ASCII letters, digits and signs, and ≤ ≥ ± × √; dashes and minus are one.

    >>> essence("RSD_r  −0.3 % (12 µg/kg) ≤ x̄")
    'RSD_r-0.3%(12g/kg)≤x'
    """
    decomposed = unicodedata.normalize("NFKD", "".join(_SIGNS.get(c, c) for c in text))
    return "".join(c for c in decomposed if (c.isascii() and c > " " and c != "|") or c in "≤≥±×√")


def first_difference(expected: str, pages: Sequence[Sequence[str]]) -> tuple[str, str] | None:
    """Where the lines of the printed pages say something else than `expected`, or None.

    Returns what is expected from there on and what is printed, both shortened. All of
    `expected` must be printed, in order and once, and nothing else. Only at a page's end
    may a part be passed over, when it stands on a later page (a moved note).
    """
    wanted = essence(expected)
    at, gaps = 0, []
    for number, page in enumerate(pages):
        lines = [line for line in map(essence, page) if line]
        for line in lines:
            if wanted.startswith(line, at):
                at += len(line)
                continue
            gap = next((g for g in gaps if g[2] < number and wanted.startswith(line, g[0], g[1])), None)
            if gap is not None:
                gap[0] += len(line)
                gaps = [g for g in gaps if g[0] < g[1]]
                continue
            found = _moved_past(wanted, at, line)
            if found is None:
                start = gaps[0][0] if gaps else at
                return _shown(wanted[start:]), _shown(line)
            gaps.append([at, found, number])
            at = found + len(line)
    start = gaps[0][0] if gaps else at
    return (_shown(wanted[start:]), "nothing") if start < len(wanted) else None


def _moved_past(wanted: str, at: int, line: str) -> int | None:
    """Where a line continues that does not follow at once; short lines are too common to be found again."""
    if len(line) < 4:
        return None
    found = wanted.find(line, at, at + FARTHEST)
    return None if found < 0 else found


def _shown(text: str) -> str:
    return text[:60]
