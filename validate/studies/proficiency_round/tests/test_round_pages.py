"""Codes as file names, codes with markup, and how the pages of a round are made."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from validate.dossier.leaflets import LeafletPress
from validate.dossier.plots import draw
from validate.pipeline import evaluate, prepare
from validate.studies.contract import PackageInput
from validate.studies.proficiency_round.packages import file_names, packages
from validate.studies.proficiency_round.tests.round_bench import long_table, written

HOSTILE = ["../../etc/passwd", "<script>alert(1)</script>", "con", "L1/..", "a b", "L1", "l1", "ünïcode", "…", "-x"]


@given(st.lists(st.text(min_size=1, max_size=12), min_size=1, max_size=20, unique=True))
def test_any_codes_become_file_names_that_are_safe_and_different(codes):
    names = list(file_names(codes).values())
    assert all(re.fullmatch(r"[A-Za-z0-9-]{1,60}", name) and not name.startswith("-") for name in names)
    assert len({name.casefold() for name in names}) == len(codes)


def test_plain_codes_keep_their_name_and_others_get_digits_behind():
    names = file_names(HOSTILE)
    assert file_names(["L07", "KT-582"]) == {"L07": "L07", "KT-582": "KT-582"}
    assert names["con"].startswith("con-") and names["L1"] != names["l1"]
    assert not any(c in name for name in names.values() for c in "./\\<> ")


def test_a_code_that_is_written_like_a_name_with_digits_takes_no_other_name():
    (taken,) = file_names(["a b"]).values()
    names = file_names(["a b", taken, taken.upper()])
    assert names["a b"] == taken
    assert len({name.casefold() for name in names.values()}) == 3


def pages(folder):
    prepared = prepare(folder)
    evaluation = evaluate(prepared)
    made = packages(PackageInput(name="round", settings=prepared.protocol.studies["round"], method=prepared.method,
                                 result=evaluation.studies[0].as_reported, title="Round",
                                 organiser="Example"))  # fmt: skip
    press = LeafletPress(evaluation, "Round")
    return {leaflet.title: press.html(leaflet).decode() for leaflet in made.leaflets}, made


def test_markup_in_a_code_is_text_on_every_page(tmp_path):
    codes = [code for code in HOSTILE if code not in ("l1", "-x")] + ["M1", "M2", "M3"]
    table = long_table({code: [100 + i] for i, code in enumerate(codes)})
    found, made = pages(written(tmp_path, table))
    page = found["Results of laboratory <script>alert(1)</script>"]
    assert "<script" not in page and "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert all(re.fullmatch(r"participants/[A-Za-z0-9-]+", leaflet.name) for leaflet in made.leaflets)


def test_a_background_is_one_object_for_all_pages(tmp_path):
    """It is drawn once: what a page costs does not depend on the number of laboratories."""
    table = long_table({f"L{i:02d}": [100 + i] for i in range(1, 13)})
    _, made = pages(written(tmp_path, table))
    plots = {id(block.plot) for leaflet in made.leaflets for block in leaflet.blocks if hasattr(block, "plot")}
    assert len(plots) == 1


def test_position_counts_laboratories_that_lie_nearer(tmp_path):
    settings = """    samples: [A]
    assigned_value: {by: formulation, value: 100, u: 1, source: test}
    sigma_pt: {by: prescribed, value: 10, source: test}
"""
    table = long_table({"L1": [100], "L2": [101], "L3": [97], "L4": [150], "L5": ["<300"]})
    found, _ = pages(written(tmp_path, table, settings))
    assert "A: 2 of 4 laboratories with a score lie nearer" in found["Results of laboratory L3"]
    assert "nearer" not in found["Results of laboratory L5"]
    assert "An action signal asks for an investigation" in found["Results of laboratory L4"]
    assert "Nothing is asked for" in found["Results of laboratory L1"]


def test_own_comments_stand_on_the_own_page_only_where_the_protocol_says_so(tmp_path):
    table = "laboratory,sample,result,comment\nL1,A,100,torn bag\nL2,A,101,\nL3,A,99,\nL4,A,98,\nL5,A,102,\n"
    for shown in (False, True):
        folder = tmp_path / str(shown)
        folder.mkdir()
        settings = (
            f"    show_comments: {'yes' if shown else 'no'}\n"
            + """    samples: [A]
    assigned_value: {by: algorithm A}
    sigma_pt: {by: prescribed, value: 10, source: test}
"""
        )
        found, _ = pages(written(folder, table, settings))
        assert ("torn bag" in found["Results of laboratory L1"]) is shown
        assert "torn bag" not in found["Results of laboratory L2"]


@pytest.mark.parametrize("count", [34, 35, 100])
def test_every_code_stands_under_its_bar(tmp_path, count):
    """Under more bars than one picture takes only every second code would be drawn: there are several pictures."""
    table = long_table({f"XQ{i:03d}": [100 + (7 * i) % 41] for i in range(count)})
    plots = evaluate(prepare(written(tmp_path, table))).studies[0].as_reported.plots
    bars = [plot for plot in plots if plot.name.startswith("sorted-1")]
    drawn = [code for plot in bars for code in re.findall(r"XQ[0-9]{3}", draw(plot, "p"))]
    assert sorted(drawn) == [f"XQ{i:03d}" for i in range(count)]
    heights = [y for plot in bars for y in plot.layers[0].y]
    assert heights == sorted(heights)
