"""Labels beside a picture: how wide they are, how they wrap, how they keep off each other."""

from __future__ import annotations

import re
import textwrap
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

from validate.dossier.text import visible

LINE_HEIGHT = 9.5
LONGEST = 20
_SYMBOL = re.compile(r"(?<![\w.-])([Esuxσ])_(n|pt|r)(?![\w-])")
_LOWERED = str.maketrans("nprt", "ₙₚᵣₜ")


@dataclass(frozen=True)
class Label:
    """A text that belongs to the place `at` (data units): at the right of a picture, or on top of it."""

    text: str
    at: float
    color: str
    on_top: bool = False

    @cached_property
    def lines(self) -> list[str]:
        return wrapped(with_lowered_letters(self.text), LONGEST).split("\n")

    @property
    def height(self) -> float:
        """In points."""
        return LINE_HEIGHT * len(self.lines)


def font_file() -> Path:
    """The face with which labels are measured; it ships with the package."""
    return Path(__file__).parent / "fonts" / "serif-regular.ttf"


def with_lowered_letters(text: str) -> str:
    """`σ_pt` as σₚₜ: a picture knows no smaller type. Codes such as `lab_a` stay as they were written."""
    return _SYMBOL.sub(lambda m: m[1] + m[2].translate(_LOWERED), text)


def wrapped(text: str, longest: int) -> str:
    """`text` broken at spaces into lines of at most `longest` signs, at most three lines."""
    text = " ".join(visible(text).split())
    lines = textwrap.wrap(
        text, longest, max_lines=3, placeholder=" …", break_on_hyphens=False, break_long_words=longest >= LONGEST
    )
    return "\n".join(lines) or text


@lru_cache(maxsize=4096)
def label_width(text: str, size: float = 8.5) -> float:
    """Width in points."""
    font = _font(size)
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing")
        font.set_text(text, 0.0)
    return font.get_width_height()[0] / 64


def text_width(text: str) -> float:
    """Width of the widest line, in points."""
    return max(map(label_width, text.split("\n")))


def spread(wanted: Sequence[float], labels: Sequence[Label], height: float) -> list[float]:
    """Centres of the labels, as near to `wanted` as they fit without overlap, in points from the bottom.

    Labels that would overlap form a block that is centred on the mean of their wishes; blocks
    that touch are joined. Blocks stay inside the picture while there is room.
    """
    order = sorted(range(len(labels)), key=lambda i: (wanted[i], i))
    blocks: list[tuple[list[int], float, float]] = []
    for i in order:
        block = ([i], labels[i].height, wanted[i])
        while blocks and _touch(blocks[-1], block):
            members, size, centre = blocks.pop()
            share = len(members) + len(block[0])
            centre = (centre * len(members) + block[2] * len(block[0])) / share
            block = (members + block[0], size + block[1], centre)
        blocks.append(block)
    places = [0.0] * len(labels)
    for members, size, centre in blocks:
        bottom = min(max(centre - size / 2, -LINE_HEIGHT / 2), max(height + LINE_HEIGHT / 2 - size, 0.0))
        for i in members:
            places[i] = bottom + labels[i].height / 2
            bottom += labels[i].height
    return places


def staggered(labels: Sequence[tuple[float, float]]) -> list[int]:
    """For labels on top, given as centre and width: the line each one stands on, so that none overlap."""
    tiers = [0] * len(labels)
    ends: list[float] = []
    for i in sorted(range(len(labels)), key=lambda i: labels[i][0]):
        centre, width = labels[i]
        free = next((tier for tier, end in enumerate(ends) if centre - width / 2 > end + 4.0), len(ends))
        ends[free : free + 1] = [centre + width / 2]
        tiers[i] = free
    return tiers


def _touch(lower: tuple[list[int], float, float], upper: tuple[list[int], float, float]) -> bool:
    return upper[2] - upper[1] / 2 < lower[2] + lower[1] / 2


@lru_cache(maxsize=4)
def _font(size: float) -> Any:
    from matplotlib.ft2font import FT2Font

    font = FT2Font(str(font_file()))
    font.set_size(size, 72)
    return font
