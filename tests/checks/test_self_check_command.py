"""`validate self-check`: exit codes, table, pages."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest

from validate.checks.loading import checks
from validate.cli import main
from validate.pipeline.self_checking import render_self_check, self_check


@pytest.fixture(scope="module")
def found():
    return self_check()


@pytest.fixture(scope="module")
def page(found) -> str:
    return html.unescape(render_self_check(found, with_pdf=False).files["self-check.html"].decode("utf-8"))


def test_a_sound_installation_exits_with_0_and_prints_a_line_for_each_check(capsys):
    assert main(["self-check"]) == 0
    told = capsys.readouterr().out
    for check in checks():
        assert re.search(rf"^{check.id} .*{check.kind}", told, re.MULTILINE), check.id
    assert "after an upgrade" in told
    assert re.search(r"^installed files [0-9a-f]{64}$", told, re.MULTILINE)
    assert re.search(r"numpy \d", told) and re.search(r"python \d", told)


def test_pages_are_written_and_an_older_pdf_does_not_stay_beside_a_newer_page(tmp_path):
    assert main(["self-check", "--out", str(tmp_path / "out")]) == 0
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"self-check.html", "self-check.pdf"}
    assert (tmp_path / "out" / "self-check.pdf").read_bytes().startswith(b"%PDF")
    assert main(["self-check", "--out", str(tmp_path / "out"), "--no-pdf"]) == 0
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"self-check.html"}


def test_folder_that_cannot_be_written_exits_with_3(tmp_path, capsys):
    (tmp_path / "taken").write_text("a file", "utf-8")
    assert main(["self-check", "--out", str(tmp_path / "taken"), "--no-pdf"]) == 3
    assert "cannot write to" in capsys.readouterr().err


def test_the_page_names_of_every_check_its_source_how_it_was_obtained_and_every_figure(page, found):
    for outcome in found.outcomes:
        section = page.partition(f'id="check-{outcome.check.id}"')[2].partition("</section>")[0]
        assert outcome.check.citation in section and outcome.check.obtained in section
        for figure in outcome.figures:
            assert f">{figure.printed}<" in section and f">{figure.obtained}<" in section, figure
            assert figure.cause is None or figure.cause in section


def test_the_page_says_what_to_redo_after_an_upgrade_and_leaves_the_decision_to_the_laboratory(page):
    assert "What to redo after an upgrade" in page
    assert "evidence towards what ISO/IEC 17025:2017, clause 7.11.2" in page
    assert "The laboratory decides whether it is enough" in page


def test_the_page_is_the_same_bytes_on_every_run_of_one_machine():
    pages = [render_self_check(self_check(), with_pdf=False).files for _ in range(2)]
    assert pages[0] == pages[1]


def test_a_page_with_a_failing_check_warns_before_anything_else(found):
    from dataclasses import replace

    outcome = found.outcomes[0]
    wrong = replace(outcome, figures=(replace(outcome.figures[0], units_off=5.0), *outcome.figures[1:]))
    broken = replace(found, outcomes=(wrong, *found.outcomes[1:]))
    page = render_self_check(broken, with_pdf=False).files["self-check.html"].decode("utf-8")
    assert "This installation does not pass." in page.partition('id="installation"')[0]
    assert f"Not reached: {outcome.check.id}." in page
    assert not broken.passes


def test_nothing_is_fetched_and_no_script_runs(page):
    assert not re.search(r'(?:src|href)="(?!#)', page.replace("url(data:", ""))
    assert "<script" not in page
    assert Path("/").as_posix() + "home" not in page
