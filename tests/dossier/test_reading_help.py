"""The page reads whole without its script; the script helps, and can do nothing else."""

from __future__ import annotations

import base64
import hashlib
import re

from tests.dossier.markup import Tree
from validate.dossier.html import page_script


def test_only_the_pages_own_script_may_run(html: str) -> None:
    scripts = re.findall(r"<script[^>]*>(.*?)</script>", html, re.DOTALL)
    assert scripts == [str(page_script())]
    digest = base64.b64encode(hashlib.sha256(scripts[0].encode()).digest()).decode()
    [policy] = [a["content"] for _, a in Tree(html).of("meta") if a.get("http-equiv") == "Content-Security-Policy"]
    assert f"script-src 'sha256-{digest}';" in policy
    assert policy.startswith("default-src 'none';") and "connect-src" not in policy and "unsafe-eval" not in policy


def test_policy_stands_before_anything_that_it_governs(html: str) -> None:
    assert html.index("Content-Security-Policy") < html.index("<style>") < html.index("<script>")


def test_no_element_runs_script_of_its_own(html: str) -> None:
    assert [(tag, name) for tag, attributes in Tree(html).tags for name in attributes if name.startswith("on")] == []
    assert "javascript:" not in html


def test_script_neither_sends_nor_stores_nor_writes_markup() -> None:
    words = ("fetch", "XMLHttpRequest", "WebSocket", "sendBeacon", "import(", "eval", "Function(", "innerHTML",
             "outerHTML", "document.write", "localStorage", "sessionStorage", "cookie", "location", "Date")  # fmt: skip
    assert [word for word in words if word in page_script()] == []


def test_each_figure_leads_to_its_working_and_its_rows(html: str) -> None:
    """Both links work without the script, which only marks the rows."""
    tree = Tree(html)
    ids = set(tree.ids)
    links = [a for _, a in tree.of("a") if "data-rows" in a]
    assert links and all(a["href"].removeprefix("#") in ids for a in links)
    listed = {a["data-name"] for _, a in tree.of("pre") if "data-name" in a}
    assert {a["data-name"] for a in links} <= listed
    assert any(a["href"].startswith("#working-") for _, a in tree.of("a"))


def test_each_dot_of_a_picture_knows_its_row_and_its_file(html: str) -> None:
    tree = Tree(html)
    assert [a for _, a in tree.of("use") if "data-row" in a]
    assert all(a.get("data-name") for _, a in tree.of("figure") if a.get("id", "").startswith("plot-recovery"))
