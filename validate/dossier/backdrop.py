"""A picture that is drawn once and on which many pages mark their own place."""

from __future__ import annotations

from dataclasses import dataclass
from xml.etree import ElementTree

from markupsafe import Markup

from validate.dossier.plots import ACCENT, HEIGHT, WIDTH, drawn
from validate.dossier.svg import SVG
from validate.vocabulary.plot import Plot

END = "</svg>"
PATH, GROUP = f"{{{SVG}}}path", f"{{{SVG}}}g"


@dataclass(frozen=True)
class Backdrop:
    """The SVG, and where its axes lie in it."""

    svg: str
    left: float
    right: float
    top: float
    bottom: float
    low: float
    high: float

    def marked(self, at: float | None) -> Markup:
        """The picture with a line at `at` on the x axis; beyond its ends the line stands at the end."""
        if at is None:
            return Markup(self.svg)
        share = (min(max(at, self.low), self.high) - self.low) / (self.high - self.low)
        x = f"{self.left + share * (self.right - self.left):.2f}"
        line = f'<path d="M{x} {self.top:.2f}V{self.bottom:.2f}" style="fill:none;stroke:{ACCENT};stroke-width:2.4"/>'
        head = f'<path d="M{x} {self.top:.2f}l-4 -7h8z" style="fill:{ACCENT};stroke:none"/>'
        before, _, after = self.svg.rpartition(END)
        return Markup(before + line + head + END + after)


def backdrop(plot: Plot, prefix: str) -> Backdrop:
    """Draw the picture; its x axis is linear."""
    svg, (left, bottom, width, height), (low, high) = drawn(plot, prefix, ())
    return Backdrop(
        svg=slimmed(str(svg)),
        left=WIDTH * left,
        right=WIDTH * (left + width),
        top=HEIGHT * (1 - bottom - height),
        bottom=HEIGHT * (1 - bottom),
        low=float(low),
        high=float(high),
    )


def slimmed(svg: str) -> str:
    """The same picture in fewer elements, as each costs time on every page that shows it.

    Groups that say nothing are dissolved, and neighbouring paths of the same look become one.
    """
    ElementTree.register_namespace("", SVG)
    root = ElementTree.fromstring(svg)
    _dissolve_groups(root)
    _join_paths(root)
    return ElementTree.tostring(root, encoding="unicode")


def _dissolve_groups(parent: ElementTree.Element) -> None:
    children = []
    for child in parent:
        _dissolve_groups(child)
        children += list(child) if child.tag == GROUP and not child.attrib else [child]
    parent[:] = children


def _join_paths(parent: ElementTree.Element) -> None:
    joined: list[ElementTree.Element] = []
    for child in parent:
        _join_paths(child)
        if joined and _look(child) is not None and _look(child) == _look(joined[-1]):
            joined[-1].set("d", joined[-1].attrib["d"] + child.attrib["d"])
        else:
            joined.append(child)
    parent[:] = joined


def _look(element: ElementTree.Element) -> dict[str, str] | None:
    if element.tag != PATH or "id" in element.attrib or len(element):
        return None
    return {name: value for name, value in element.attrib.items() if name != "d"}
