"""The picture behind participants' marks: drawn once, in few elements, and still the same picture."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from validate.dossier.backdrop import backdrop, slimmed
from validate.dossier.plots import draw
from validate.vocabulary.plot import Axis, Bars, Plot, Rule

BINS = tuple(-4.75 + 0.5 * i for i in range(20))
PLOT = Plot(
    name="scores",
    title="Your score among all",
    sentence="Bars: how many laboratories.",
    description="Histogram of scores.",
    x=Axis(label="z", low=-5, high=5),
    y=Axis(label="laboratories", low=0),
    layers=(Bars(x=BINS, y=tuple(float(i % 5) for i in range(20))), Rule(axis="x", at=2.0, style="dotted")),
)


def drawn_steps(svg: str) -> list[tuple[str, str]]:
    """Every step of every path in drawing order, with the look that it has."""
    paths = [element for element in ElementTree.fromstring(svg).iter() if element.tag.endswith("}path")]
    return [
        (path.get("style", ""), step) for path in paths for step in re.findall(r"[A-Za-z][^A-Za-z]*", path.get("d"))
    ]


def texts(svg: str) -> list[tuple[str | None, str | None, str | None]]:
    found = [element for element in ElementTree.fromstring(svg).iter() if element.tag.endswith("}text")]
    return [(element.text, element.get("x"), element.get("y")) for element in found]


@pytest.fixture(scope="module")
def whole() -> str:
    return str(draw(PLOT, "p"))


def test_the_slimmed_picture_draws_the_same_lines_and_words_in_the_same_order(whole):
    assert drawn_steps(slimmed(whole)) == drawn_steps(whole)
    assert texts(slimmed(whole)) == texts(whole)


def test_what_is_referred_to_keeps_its_id(whole):
    svg = slimmed(whole)
    wanted = set(re.findall(r'(?:href="#|url\(#)([^")]+)', whole))
    assert wanted and wanted <= set(re.findall(r'\bid="([^"]+)"', svg))


def test_bars_of_one_look_become_one_element(whole):
    assert whole.count("<path") - slimmed(whole).count("<path") >= len(BINS) - 1
    assert "<g>" not in slimmed(whole)


def test_a_mark_beyond_the_axis_stands_at_its_end():
    picture = backdrop(PLOT, "p")
    assert picture.marked(99.0) == picture.marked(5.0) != picture.marked(4.9)
    assert f"M{picture.right:.2f} " in picture.marked(99.0)
