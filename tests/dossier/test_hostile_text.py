"""Texts from files never become markup: not in the page, not in a picture, not in the PDF's metadata."""

from __future__ import annotations

import json

import pytest

from tests.dossier.markup import Tree
from tests.dossier.sample import inputs, sample
from tests.dossier.sample_study import SECTION
from validate.dossier.html import render_html
from validate.provenance.evaluation_file import evaluation_bytes, read_evaluation

HOSTILE = (
    "<script>alert(1)</script>",
    "\"'><img src=x onerror=alert(1)>",
    "</title></style></pre><h1>x",
    "{{ 7*7 }}{% raw %}",
    "]]><!-- --><![CDATA[",
    "&lt;b&gt; &amp; url(http://example.org/x)",
)


@pytest.mark.parametrize("text", HOSTILE)
def test_a_hostile_text_in_every_field_leaves_the_tree_of_the_page_as_it_is(text: str) -> None:
    tame, wild = page("plain"), page(text)
    assert [(tag, sorted(a)) for tag, a in outside_pictures(wild)] == [
        (t, sorted(a)) for t, a in outside_pictures(tame)
    ]
    assert {tag for tag, _ in wild.tags} == {tag for tag, _ in tame.tags}
    assert wild.declarations == tame.declarations
    assert text in "".join(wild.text)


def test_a_hostile_study_name_is_a_text_and_a_harmless_anchor() -> None:
    name = 'a"b><script>x</script>@5/ü'
    source = evaluation_bytes(sample()).decode().replace('"recovery-in-coffee"', json.dumps(name, ensure_ascii=False))
    tree = Tree(render_html(read_evaluation(source.encode()), inputs(), {"recovery": SECTION}).decode())
    assert tree.of("script") == [("script", {})]
    assert name in "".join(tree.text)
    assert sorted(set(tree.ids)) == sorted(tree.ids)
    assert all(set(i) <= set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.") for i in tree.ids)


def test_controls_and_direction_marks_are_shown_and_not_obeyed() -> None:
    html = render_html(sample("a\x00b\x1b[31mc\u202ed"), inputs(), {"recovery": SECTION}).decode()
    assert not set(html) & {"\x00", "\x1b", "\u202e"}
    assert "a\\x00b\\x1b[31mc\\u202ed" in html


def test_hostile_table_bytes_are_only_listed() -> None:
    files = {**inputs(), "recovery.csv": b"</pre><script>alert(1)</script>\x00\xff\n" * 3}
    tree = Tree(render_html(sample(), files, {"recovery": SECTION}).decode())
    assert tree.of("script") == [("script", {})]
    assert "".join(tree.text).count("</pre><script>alert(1)</script>\\x00ÿ") == 3


def outside_pictures(tree: Tree) -> list[tuple[str, list[str]]]:
    """Tags with the names of their attributes. Longer labels of a picture take more lines."""
    return [(tag, sorted(a)) for tag, a in tree.tags if tag not in ("g", "text", "defs", "use", "path")]


def page(text: str) -> Tree:
    return Tree(render_html(sample(text), inputs(), {"recovery": SECTION}).decode())
