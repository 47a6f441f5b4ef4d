"""Templates print what they are given: no arithmetic, no unknown attribute, nothing unused."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from pathlib import Path

import pytest
from jinja2 import Environment, nodes

import validate
from validate.dossier.context import Page
from validate.dossier.html import FOLDER
from validate.dossier.words import Words

TEMPLATES = sorted((FOLDER / "templates").glob("*.html"))
SECTIONS = sorted((Path(validate.__file__).parent / "studies").glob("*/section.html"))
ARITHMETIC = (nodes.Add, nodes.Sub, nodes.Mul, nodes.Div, nodes.FloorDiv, nodes.Mod, nodes.Pow, nodes.Neg)
COUNTING = {"round", "sum", "abs", "length", "count", "min", "max", "float", "int", "format", "safe"}


def tree(path: Path) -> nodes.Template:
    return Environment().parse(path.read_text(encoding="utf-8"))


def each_template() -> list:
    return [pytest.param(path, id=f"{path.parent.name}/{path.name}") for path in TEMPLATES + SECTIONS]


@pytest.mark.parametrize("path", each_template())
def test_no_number_is_born_in_a_template(path: Path) -> None:
    page = tree(path)
    assert not list(page.find_all(ARITHMETIC))
    assert not {node.name for node in page.find_all(nodes.Filter)} & COUNTING


@pytest.mark.parametrize("path", each_template())
def test_templates_use_only_documented_filters(path: Path, evaluation) -> None:
    known = Words(evaluation, lambda *_: "").filters()
    assert {node.name for node in tree(path).find_all(nodes.Filter)} <= set(known)


@pytest.mark.parametrize("path", SECTIONS, ids=[path.parent.name for path in SECTIONS])
def test_sections_use_only_documented_variables_and_macros(path: Path) -> None:
    page = tree(path)
    set_here = {n.name for n in page.find_all(nodes.Name) if n.ctx in ("store", "param")}
    used = {n.name for n in page.find_all(nodes.Name) if n.ctx == "load"} - set_here
    assert used <= {"study", "result", "requirements", "parts"}
    assert {name for name in macro_calls(page)} <= documented_macros()


def test_every_macro_is_documented_at_the_top_of_parts() -> None:
    text = (FOLDER / "templates" / "parts.html").read_text(encoding="utf-8")
    head = text[: text.index("-#}")]
    own = {node.name for node in tree(FOLDER / "templates" / "parts.html").find_all(nodes.Macro)}
    assert all(f"parts.{name}(" in head for name in own - {"picture", "result_table", "working_table", "meanings"})


def test_templates_ask_the_page_only_for_what_it_has_and_print_all_of_it() -> None:
    asked = {attribute for path in TEMPLATES for attribute in attributes_of(tree(path), "page")}
    assert asked == {field.name for field in dataclasses.fields(Page)}


def macro_calls(page: nodes.Template) -> Iterator[str]:
    return attributes_of(page, "parts")


def documented_macros() -> set[str]:
    return {node.name for node in tree(FOLDER / "templates" / "parts.html").find_all(nodes.Macro)}


def attributes_of(page: nodes.Template, variable: str) -> Iterator[str]:
    for node in page.find_all(nodes.Getattr):
        if isinstance(node.node, nodes.Name) and node.node.name == variable:
            yield node.attr
