"""The page holds together: landmarks, headings, tables, anchors, and nothing from outside."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import pytest

from tests.dossier.markup import Tree
from tests.dossier.sample import inputs, sample
from tests.dossier.sample_study import SECTION
from validate.dossier.context import ANCHORS
from validate.dossier.html import render_html
from validate.provenance.evaluation_file import evaluation_bytes, read_evaluation
from validate.vocabulary.evaluation import Evaluation, StudyResult


@pytest.fixture(scope="module")
def tree(html: str) -> Tree:
    return Tree(html)


def test_the_page_needs_nothing_from_outside_and_runs_nothing(html: str, tree: Tree) -> None:
    styles = "".join(re.findall(r"<style>(.*?)</style>", html, re.S))
    addresses = re.findall(r"url\(([^)]{0,30})", styles)
    assert addresses and all(address.startswith("data:font/woff2;base64,") for address in addresses)
    assert "@import" not in styles
    assert not tree.of("link", "iframe", "object", "embed", "img", "form", "base")
    targets = [a.get("href", "") + a.get("src", "") + a.get("xlink:href", "") for _, a in tree.tags]
    assert all(target.startswith("#") for target in targets if target)
    assert not any(name.startswith("on") for _, attributes in tree.tags for name in attributes)


def test_it_fits_into_one_and_a_half_megabytes(html: str) -> None:
    assert len(html.encode()) < 1_500_000


def test_every_id_is_unique_and_every_link_arrives(tree: Tree) -> None:
    assert sorted(set(tree.ids)) == sorted(tree.ids)
    assert {a["href"][1:] for _, a in tree.of("a", "use")} <= set(tree.ids)
    named = [name for _, a in tree.tags for name in a.get("aria-labelledby", "").split()]
    assert set(named) <= set(tree.ids)


def test_two_sets_that_judge_one_figure_keep_their_own_anchors(evaluation: Evaluation) -> None:
    twice = replace(evaluation, requirements=evaluation.requirements * 2)
    ids = Tree(render_html(twice, inputs(), {"recovery": SECTION}).decode()).ids
    assert sorted(set(ids)) == sorted(ids)


def test_links_hold_plain_text_only(html: str) -> None:
    """Markup inside a link becomes a second link in the PDF that no reader can name."""
    assert not re.findall(r"<a [^>]*>[^<]*<(?!/a>)", html)


def test_the_parts_named_for_other_rooms_are_there(tree: Tree) -> None:
    assert set(ANCHORS) <= set(tree.ids)
    assert "study-recovery-in-coffee" in tree.ids


def test_headings_descend_one_step_at_a_time(tree: Tree) -> None:
    levels = [int(tag[1]) for tag, _ in tree.of("h1", "h2", "h3", "h4", "h5", "h6")]
    assert levels.count(1) == 1 and levels[0] == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))


def test_tables_have_captions_and_headers_say_what_they_head(tree: Tree) -> None:
    assert len(tree.of("table")) == len(tree.of("caption"))
    assert all(a.get("scope") in ("col", "row", "rowgroup") for _, a in tree.of("th"))


def test_landmarks_language_and_a_way_past_the_head(tree: Tree) -> None:
    assert tree.of("html")[0][1]["lang"] == "en"
    assert len(tree.of("main")) == 1 and tree.of("nav") and tree.of("header") and tree.of("footer")
    assert tree.of("a")[0][1] == {"class": "skip", "href": "#main"}


def test_everything_that_scrolls_can_be_reached_by_keyboard(tree: Tree) -> None:
    scrolling = [a for _, a in tree.tags if a.get("class", "").split()[:1] in (["scroll"], ["listing"])]
    assert scrolling and all(a["tabindex"] == "0" and a["role"] == "region" and a["aria-label"] for a in scrolling)


def test_the_three_verdicts_are_words_in_three_frames(html: str) -> None:
    for slug, word in (("met", "met"), ("not-met", "not met"), ("not-shown", "not shown")):
        assert f'<span class="verdict verdict-{slug}">{word}</span>' in html
    style = html[html.index(".verdict{") : html.index(".evidence{")]
    assert "border:1.5px solid" in style and "background:var(--ink)" in style and "dashed" in style


def test_invented_data_say_so_on_every_page(html: str) -> None:
    assert '<p class="running-foot">Data invented for demonstration</p>' in html
    assert "running(foot)" in html and "content:element(foot)" in html


def test_measured_data_carry_no_mark(evaluation: Evaluation) -> None:
    text = evaluation_bytes(evaluation).decode().replace('"data":"invented"', '"data":"measured"')
    page = render_html(read_evaluation(text.encode()), inputs(), {"recovery": SECTION}).decode()
    assert "invented for demonstration" not in page


def test_the_end_is_marked_and_names_the_protocol(html: str) -> None:
    tail = html[html.index("End of the dossier") : html.index("<script>")]
    assert "OTA-GC-01 · edition 1" in tail and len(tail) < 300


def test_the_page_is_made_from_evaluation_json_and_the_inputs_alone(html: str, evaluation: Evaluation) -> None:
    again = read_evaluation(evaluation_bytes(evaluation))
    assert render_html(again, inputs(), {"recovery": SECTION}).decode() == html


def test_an_empty_evaluation_says_what_is_missing(evaluation: Evaluation) -> None:
    empty = {
        "protocol": {"id": "X", "edition": "1", "method": {}},
        "inputs": (), "studies": (), "requirements": (), "gaps": (), "minimum_designs": (), "amendments": (),
        "exclusions": (), "left_one_out": (), "recorded_only": (), "clauses": (), "catalogue": (), "notices": (),
        "seal": None, "reissue": None,
    }  # fmt: skip
    page = render_html(replace(evaluation, **empty), {}, {}).decode()
    for sentence in ("sets no criterion", "has no study", "names no material", "No value was amended", "Not sealed"):
        assert sentence in page


def test_a_study_without_results_says_so(evaluation: Evaluation) -> None:
    planned = replace(evaluation.studies[0], as_reported=StudyResult(findings=()), as_recorded=StudyResult(findings=()))
    page = render_html(replace(evaluation, studies=(planned,)), inputs(), {"recovery": SECTION}).decode()
    assert "No results yet" in page and page.count("no finding</td>") == len(evaluation.requirements)


def test_a_section_may_show_a_working_and_the_page_shows_it_once_more(evaluation: Evaluation) -> None:
    section = (
        "{{ parts.findings(study) }}{{ parts.working(study, ['mean_recovery']) }}{{ parts.plot(study, 'spread') }}"
    )
    tree = Tree(render_html(evaluation, inputs(), {"recovery": section}).decode())
    assert sorted(set(tree.ids)) == sorted(tree.ids)
    assert [a.get("class") for _, a in tree.tags].count("working") == 2 and len(tree.of("figure")) == 1


def test_a_bare_name_that_templates_do_not_know_is_an_error(evaluation: Evaluation) -> None:
    from jinja2 import UndefinedError

    with pytest.raises(UndefinedError):
        render_html(evaluation, inputs(), {"recovery": "{{ study.recoverie }}"})


def test_more_than_5000_lines_are_cut_and_told() -> None:
    from validate.dossier.listing import numbered

    text, left_out = numbered(b"\n".join(b"%d" % i for i in range(1, 6001)), {5999: "X"})
    assert text.count("\n") == 200 and "101 to 5900 of 6000" in left_out
    assert "X 5999  5999" in text
    assert numbered(b"a\r\nb\n", {2: "A"}) == ("  1  a\nA 2  b", "")


def test_sample_texts_reach_the_page(html: str) -> None:
    """The figures as recorded stand beside those as reported, with the left-one-out verdicts."""
    text = " ".join(" ".join(Tree(html).text).split())
    for words in (
        "108.6 % 93.1 %",
        "repeatability, relative at 10 µg/kg (recovery-in-coffee): met → not shown",
        "no verdict changes",
        "A 4 R-017,5,2031-03-11,B. Example,9.1",
        "18 on 3 occasions",
        "Taking the sample usually outweighs everything",
        "the share of studies of this design",
        "20 %, the bound – 58 %",
    ):
        assert words in text.replace("\u00a0", " "), words
    assert sample() == sample()
