"""Leaflets as HTML and PDF, in the typography of the dossier; the styles are read and shared pictures drawn once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from validate.dossier.backdrop import Backdrop, backdrop
from validate.dossier.declared import ORIGIN_MARKS, identification_line
from validate.dossier.html import page_styles, template_environment
from validate.dossier.plots import draw
from validate.dossier.words import Words
from validate.vocabulary.evaluation import Evaluation
from validate.vocabulary.leaflet import Block, Leaflet, MarkedPlot
from validate.vocabulary.plot import Plot

if TYPE_CHECKING:
    from jinja2 import Environment

FOLDER = Path(__file__).parent / "templates"


@dataclass(frozen=True)
class Frame:
    """What stands on every leaflet of a protocol."""

    line: str
    origin_mark: str
    kicker: str
    issued: str

    @classmethod
    def of(cls, protocol: Mapping[str, Any], kicker: str) -> Frame:
        """From a protocol as plain data."""
        mark = ORIGIN_MARKS.get((protocol.get("origin") or {}).get("data", ""), "")
        return cls(identification_line(protocol), mark, kicker, str(protocol["issued"]))


class LeafletPress:
    """Sets leaflets one after the other. What one costs does not depend on how many there are."""

    def __init__(self, evaluation: Evaluation, kicker: str) -> None:
        self.evaluation = evaluation
        self.frame = Frame.of(evaluation.protocol, kicker)
        self._drawn: dict[str, Backdrop] = {}

    def html(self, leaflet: Leaflet) -> bytes:
        """One self-contained page."""
        return self._page(leaflet, self._styles)

    def pdf(self, leaflet: Leaflet) -> bytes:
        """The same page set for print, with fields that can be filled in. Raises PangoMissing."""
        from validate.dossier.pdf import set_pages

        issued = datetime.fromisoformat(self.frame.issued)
        return set_pages(self._page(leaflet, ""), issued=issued, styles=self._read_styles)

    def _page(self, leaflet: Leaflet, styles: str | Markup) -> bytes:
        template = self._environment.get_template("leaflet.html")
        blocks = [(type(block).__name__, block, self._marked(block)) for block in leaflet.blocks]
        page = template.render(leaflet=leaflet, blocks=blocks, frame=self.frame, styles=styles, parts=self._parts)
        return page.encode("utf-8")

    @cached_property
    def _styles(self) -> Markup:
        return page_styles() + Markup((FOLDER / "leaflet.css").read_text(encoding="utf-8"))

    @cached_property
    def _read_styles(self) -> Any:
        from validate.dossier.pdf import ReadStyles

        return ReadStyles(str(self._styles))

    @cached_property
    def _parts(self) -> Any:
        return self._environment.get_template("parts.html").module

    @cached_property
    def _environment(self) -> Environment:
        return template_environment(Words(self.evaluation, draw))

    def _marked(self, block: Block) -> Markup:
        return self._backdrop(block.plot).marked(block.at) if isinstance(block, MarkedPlot) else Markup("")

    def _backdrop(self, plot: Plot) -> Backdrop:
        if plot.name not in self._drawn:
            self._drawn[plot.name] = backdrop(plot, f"picture-{len(self._drawn) + 1}")
        return self._drawn[plot.name]
