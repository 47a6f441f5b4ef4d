"""Pictures: named and described, pointable, alone in their ids, in one ink and one accent."""

from __future__ import annotations

import itertools
import re
from xml.etree import ElementTree

import pytest

from tests.dossier.sample_study import plots
from validate.dossier.labels import LINE_HEIGHT, Label, spread, staggered, with_lowered_letters
from validate.dossier.plots import ACCENT, INK, TINT, draw
from validate.vocabulary.plot import Axis, Line, Plot, Points, Rule

SVG = "{http://www.w3.org/2000/svg}"
NAMES = ("by_level", "spread")


@pytest.fixture(scope="module")
def pictures() -> list[str]:
    return [str(draw(plot, f"plot-{i}")) for i, plot in enumerate(plots())]


def minimal(**more: object) -> Plot:
    base = {"name": "p", "title": "T", "sentence": "S", "description": "D", "x": Axis(label="x"), "y": Axis(label="y")}
    return Plot(**{**base, "layers": (Points(x=(1.0, 2.0), y=(3.0, 4.0), rows=(7, 9)),), **more})


def test_a_picture_has_role_title_and_description(pictures: list[str]) -> None:
    for i, (picture, plot) in enumerate(zip(pictures, plots(), strict=True)):
        root = ElementTree.fromstring(picture)
        assert root.get("role") == "img"
        assert root.get("aria-labelledby") == f"plot-{i}-title plot-{i}-desc"
        assert [child.text for child in root][:2] == [plot.title, plot.description]


def test_all_ids_carry_the_prefix_and_every_reference_has_its_target(pictures: list[str]) -> None:
    for i, picture in enumerate(pictures):
        ids = re.findall(r'\bid="([^"]+)"', picture)
        assert all(name.startswith(f"plot-{i}-") for name in ids)
        assert len(ids) == len(set(ids))
        assert set(re.findall(r'(?:href="#|url\(#)([^")]+)', picture)) <= set(ids)


def test_a_point_tells_its_row() -> None:
    marks = [e for e in ElementTree.fromstring(str(draw(minimal(), "p"))).iter(f"{SVG}use") if e.get("data-row")]
    assert [(m.get("data-row"), m[0].text) for m in marks] == [("7", "row 7: 3"), ("9", "row 9: 4")]


def test_points_outside_the_axes_are_told_and_rows_stay_with_their_points() -> None:
    picture = str(draw(minimal(y=Axis(label="y", low=3.5, high=5.0)), "p"))
    assert "1 points lie outside the picture" in picture
    assert re.findall(r'data-row="(\d+)"', picture) == ["9"]


def test_one_ink_and_one_accent(pictures: list[str]) -> None:
    colours = set(re.findall(r"#[0-9a-f]{6}", "".join(pictures)))
    assert colours <= {INK, ACCENT, TINT, "#ffffff", "#d9d9d9"}


def test_nothing_global_leaves_a_picture(pictures: list[str]) -> None:
    assert not any("<style" in picture or "<metadata" in picture for picture in pictures)


def test_labels_never_overlap_and_stay_beside_the_picture() -> None:
    labels = [Label(text, 0.0, INK) for text in ("one", "two", "three words that wrap to two lines", "four", "five")]
    places = spread([50.0, 51.0, 52.0, 149.0, 150.0], labels, 150.0)
    spans = sorted((p - label.height / 2, p + label.height / 2) for p, label in zip(places, labels, strict=True))
    assert all(above[0] >= below[1] - 1e-9 for below, above in itertools.pairwise(spans))
    assert spans[0][0] >= -LINE_HEIGHT and spans[-1][1] <= 150.0 + LINE_HEIGHT


def test_symbols_in_pictures_have_lowered_letters_and_codes_stay_as_written() -> None:
    assert with_lowered_letters("mean + 0.3·σ_pt, D = x − x_pt, E_n = 1") == "mean + 0.3·σₚₜ, D = x − xₚₜ, Eₙ = 1"
    assert with_lowered_letters("lab_r C_0931 x_ptf") == "lab_r C_0931 x_ptf"


def test_labels_on_top_take_another_line_when_they_would_overlap() -> None:
    assert staggered([(10.0, 30.0), (20.0, 30.0), (100.0, 30.0)]) == [0, 1, 0]


def test_a_limit_far_away_is_still_in_the_picture() -> None:
    picture = str(draw(minimal(layers=(*minimal().layers, Rule(at=400.0, label="limit"))), "p"))
    assert ">limit<" in picture and ">400<" in picture


@pytest.mark.parametrize(
    "layers",
    [
        (),
        (Points(x=(1.0,), y=(1.0,)),),
        (Points(x=(1.0, 1.0), y=(0.0, 0.0)),),
        (Line(x=(), y=(), label="empty"),),
        (Points(x=tuple(range(1, 2001)), y=tuple(range(1, 2001)), rows=tuple(range(2, 2002))),),
    ],
    ids=["no layer", "one point", "all zero", "empty line", "2,000 points"],
)
def test_thin_and_thick_data_are_drawn(layers: tuple) -> None:
    assert draw(minimal(layers=layers), "p").startswith("<svg")


def test_texts_of_other_scripts_and_controls_do_no_harm() -> None:
    picture = str(draw(minimal(x=Axis(label="中文 \x1b[31m \u202e", categories=("<b>", "&amp;"))), "p"))
    assert "\x1b" not in picture and "\u202e" not in picture and "<b>" not in picture
