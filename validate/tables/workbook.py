"""A workbook's table of contents: its sheets, shared texts, cell formats, links; XLSX as in ECMA-376 part 1."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from validate.tables.archive import Parts, WorkbookRefused, resolved
from validate.tables.number_format import BUILT_IN, NumberFormat, number_format

MOST_SHEETS = 500
MOST_TEXT_CHARACTERS = 100_000_000
_ESCAPE = re.compile(r"_x([0-9A-Fa-f]{4})_")
_LINKS = ("xl/externallinks/", "xl/connections.xml", "xl/querytables/")


@dataclass(frozen=True)
class SheetEntry:
    """A sheet as the workbook lists it."""

    name: str
    part: str
    hidden: bool


class Workbook:
    """The workbook in `content`; raises WorkbookRefused when it cannot be read safely."""

    def __init__(self, content: bytes) -> None:
        self.parts = Parts(content)
        self.from_1904 = False
        self.values_outdated = False
        """The program that wrote it asks for all formulas to be computed when it is opened."""
        self._listed: list[tuple[str, str, bool]] = []
        self.part = self._main_part()
        self.parts.parse(self.part, self._take_listed)
        self.sheets = self._sheets()

    @property
    def visible(self) -> tuple[SheetEntry, ...]:
        return tuple(sheet for sheet in self.sheets if not sheet.hidden)

    @property
    def has_links(self) -> bool:
        """Whether it takes values from other workbooks or from a data source."""
        return any(name.casefold().startswith(_LINKS) for name in self.parts.names)

    @cached_property
    def texts(self) -> list[str]:
        """The shared texts; runs of rich text are joined, reading aids left out."""
        targets = self._related("sharedStrings")
        if not targets:
            return []
        collector = _Texts()
        self.parts.parse(targets[0], collector.start, collector.end, collector.text)
        return collector.texts

    @cached_property
    def formats(self) -> list[NumberFormat]:
        """The number format of each cell style, by its index."""
        targets = self._related("styles")
        if not targets:
            return []
        collector = _Styles()
        self.parts.parse(targets[0], collector.start, collector.end)
        codes = {**BUILT_IN, **collector.codes}
        return [number_format(codes.get(number, "General")) for number in collector.styles]

    def _main_part(self) -> str:
        for kind, target, _ in _relations(self.parts, "").values():
            if kind == "officeDocument" and target in self.parts:
                if _is_macro_enabled(self.parts):
                    raise WorkbookRefused("workbook-macros")
                return target
        raise WorkbookRefused("workbook-none")

    @cached_property
    def _relations(self) -> Mapping[str, tuple[str, str, bool]]:
        return _relations(self.parts, self.part)

    def _related(self, kind: str) -> list[str]:
        return [t for k, t, external in self._relations.values() if k == kind and not external and t in self.parts]

    def _take_listed(self, tag: str, attributes: Mapping[str, str]) -> None:
        if tag == "sheet":
            relation = next((value for key, value in attributes.items() if key.endswith(":id")), "")
            self._listed.append((attributes.get("name", ""), relation, attributes.get("state", "visible") != "visible"))
            if len(self._listed) > MOST_SHEETS:
                raise WorkbookRefused("workbook-too-many-sheets", limit=f"{MOST_SHEETS:,}")
        elif tag == "workbookPr":
            self.from_1904 = attributes.get("date1904") in ("1", "true")
        elif tag == "calcPr":
            self.values_outdated = attributes.get("fullCalcOnLoad") in ("1", "true")

    def _sheets(self) -> tuple[SheetEntry, ...]:
        sheets = []
        for name, relation, hidden in self._listed:
            kind, part, external = self._relations.get(relation, ("", "", True))
            if "macro" in kind.casefold():
                raise WorkbookRefused("workbook-macros")
            if kind == "worksheet" and not external:
                sheets.append(SheetEntry(name, part, hidden))
        if len({sheet.name.casefold() for sheet in sheets}) < len(sheets):
            raise WorkbookRefused("workbook-damaged", why="two sheets have the same name")
        if not sheets:
            raise WorkbookRefused("workbook-damaged", why="it has no sheet with cells")
        return tuple(sheets)


def _is_macro_enabled(parts: Parts) -> bool:
    kinds: list[str] = []
    parts.parse("[Content_Types].xml", lambda tag, attributes: kinds.append(attributes.get("ContentType", "")))
    return any("macroenabled" in kind.casefold() for kind in kinds)


def _relations(parts: Parts, source: str) -> dict[str, tuple[str, str, bool]]:
    """Id → last word of the type, target part, whether it lies outside of the file."""
    folder, _, name = source.rpartition("/")
    part = f"{folder}/_rels/{name}.rels" if folder else f"_rels/{name}.rels"
    found: dict[str, tuple[str, str, bool]] = {}

    def take(tag: str, attributes: Mapping[str, str]) -> None:
        if tag == "Relationship":
            kind = attributes.get("Type", "").rpartition("/")[2]
            target = resolved(source, attributes.get("Target", ""))
            found[attributes.get("Id", "")] = (kind, target, attributes.get("TargetMode") == "External")

    if part in parts:
        parts.parse(part, take)
    return found


def unescaped(text: str) -> str:
    """`_x000A_` and the like as the character that they stand for."""
    return _ESCAPE.sub(lambda match: chr(int(match[1], 16)), text) if "_x" in text else text


class _Texts:
    def __init__(self) -> None:
        self.texts: list[str] = []
        self._pieces: list[str] = []
        self._in_text = self._in_aid = False
        self._characters = 0

    def start(self, tag: str, _: Mapping[str, str]) -> None:
        if tag == "si":
            self._pieces = []
        elif tag == "rPh":
            self._in_aid = True
        elif tag == "t":
            self._in_text = not self._in_aid

    def end(self, tag: str) -> None:
        if tag == "si":
            self.texts.append(unescaped("".join(self._pieces)))
        elif tag == "rPh":
            self._in_aid = False
        elif tag == "t":
            self._in_text = False

    def text(self, text: str) -> None:
        if self._in_text:
            self._pieces.append(text)
            self._characters += len(text)
            if self._characters > MOST_TEXT_CHARACTERS:
                raise WorkbookRefused("workbook-damaged", why="it holds too much text")


class _Styles:
    def __init__(self) -> None:
        self.codes: dict[int, str] = {}
        self.styles: list[int] = []
        self._in_cell_styles = False

    def start(self, tag: str, attributes: Mapping[str, str]) -> None:
        if tag == "numFmt":
            self.codes[_whole(attributes.get("numFmtId"))] = attributes.get("formatCode", "General")
        elif tag == "cellXfs":
            self._in_cell_styles = True
        elif tag == "xf" and self._in_cell_styles:
            self.styles.append(_whole(attributes.get("numFmtId", "0")))

    def end(self, tag: str) -> None:
        if tag == "cellXfs":
            self._in_cell_styles = False


def _whole(text: str | None) -> int:
    return int(text) if text is not None and len(text) < 7 and text.isascii() and text.isdigit() else 0
