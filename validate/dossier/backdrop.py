"""A picture that is drawn once and on which many pages mark their own place."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from validate.dossier.plots import ACCENT, HEIGHT, WIDTH, drawn
from validate.vocabulary.plot import Plot

END = "</svg>"


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
        svg=str(svg),
        left=WIDTH * left,
        right=WIDTH * (left + width),
        top=HEIGHT * (1 - bottom - height),
        bottom=HEIGHT * (1 - bottom),
        low=float(low),
        high=float(high),
    )
