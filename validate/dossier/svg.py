"""From the drawing library's SVG to an inline picture: own ids, a name, a description, rows that can be pointed at."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from xml.etree import ElementTree

from markupsafe import Markup

from validate.dossier.text import visible
from validate.vocabulary.plot import Plot

SVG = "http://www.w3.org/2000/svg"
LINK = "{http://www.w3.org/1999/xlink}href"
FAMILY = "'Dossier Serif', 'Libertinus Serif', serif"
_FAMILY = re.compile(r"font-family:[^;]+")
_NO_TURN = re.compile(r"rotate\(-?0 ")
_REFERENCE = re.compile(r"url\(#([^)]+)\)")
Told = tuple[Sequence[tuple[int | None, str]], int]


def finished(source: str, plot: Plot, prefix: str, told: Mapping[str, Told]) -> Markup:
    """Inline SVG with role, title and description.

    Ids that nothing refers to are dropped, the others begin with `prefix`. `told` holds for
    each layer of points (by its id) the row and text of every mark and how many are outside.
    """
    root = ElementTree.fromstring(source)
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in (f"{{{SVG}}}metadata", f"{{{SVG}}}style"):
                parent.remove(child)
    for gid, (marks, _) in told.items():
        _tell_rows(root, gid, marks)
    _own_ids(root, prefix)
    for element in root.iter():
        _plain_text_style(element)
    outside = sum(count for _, count in told.values())
    _describe(root, plot, prefix, outside)
    ElementTree.register_namespace("", SVG)
    text = ElementTree.tostring(root, encoding="unicode")
    return Markup(re.sub(r"\n\s*", "\n", text))


def _tell_rows(root: ElementTree.Element, gid: str, marks: Sequence[tuple[int | None, str]]) -> None:
    group = next((e for e in root.iter(f"{{{SVG}}}g") if e.get("id") == gid), None)
    if group is None:
        return
    for use, (row, text) in zip(group.iter(f"{{{SVG}}}use"), marks, strict=True):
        if row is not None:
            use.set("data-row", str(row))
            title = ElementTree.SubElement(use, f"{{{SVG}}}title")
            title.text = f"row {row}: {text}"


def _own_ids(root: ElementTree.Element, prefix: str) -> None:
    used = set()
    for element in root.iter():
        link = element.attrib.pop(LINK, None)
        if link:
            used.add(link.removeprefix("#"))
            element.set("href", f"#{prefix}-{link.removeprefix('#')}")
        for name, value in element.attrib.items():
            used.update(_REFERENCE.findall(value))
            element.set(name, _REFERENCE.sub(rf"url(#{prefix}-\1)", value))
    for element in root.iter():
        own = element.attrib.pop("id", None)
        if own in used:
            element.set("id", f"{prefix}-{own}")


def _plain_text_style(element: ElementTree.Element) -> None:
    if "style" in element.attrib:
        element.set("style", _FAMILY.sub(f"font-family: {FAMILY}", element.attrib["style"]))
    if _NO_TURN.match(element.get("transform", "")):
        del element.attrib["transform"]


def _describe(root: ElementTree.Element, plot: Plot, prefix: str, outside: int) -> None:
    for name in ("width", "height", "version"):
        root.attrib.pop(name, None)
    root.set("role", "img")
    root.set("aria-labelledby", f"{prefix}-title {prefix}-desc")
    root.set("class", "plot")
    root.set("style", "stroke-linejoin: round; stroke-linecap: butt")
    title = ElementTree.Element(f"{{{SVG}}}title", {"id": f"{prefix}-title"})
    title.text = visible(plot.title)
    description = ElementTree.Element(f"{{{SVG}}}desc", {"id": f"{prefix}-desc"})
    missing = f" {outside} points lie outside the picture." if outside else ""
    description.text = visible(f"{plot.description}{missing}")
    root[:0] = [title, description]
