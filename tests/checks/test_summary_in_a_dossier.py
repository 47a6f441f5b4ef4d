"""What a method dossier carries of the self-check, and the hash of the installed files."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from validate.pipeline import evaluate, prepare
from validate.pipeline.rendering import render_page
from validate.pipeline.self_checking import self_check, self_check_summary
from validate.provenance.evaluation_file import evaluation_bytes
from validate.provenance.installed import installed_files_hash

EXAMPLE = Path(__file__).parents[2] / "validate" / "studies" / "recovery" / "example"


def test_a_dossier_prints_counts_version_and_hash_in_its_software_section():
    prepared = prepare(EXAMPLE)
    evaluation = evaluate(prepared)
    page = render_page(prepared, evaluation).decode("utf-8")
    section = page.partition('<section id="software"')[2].partition("</section>")[0]
    summary = self_check().summary
    assert f"{summary.passed} of {summary.checks} checks agree" in section
    assert f"{summary.agreed} of {summary.figures} figures" in section
    assert evaluation.software in section
    assert installed_files_hash() in section
    assert "the laboratory decides" in section


def test_the_evaluation_carries_counts_and_nothing_of_the_machine():
    carried = json.loads(evaluation_bytes(evaluate(prepare(EXAMPLE))))["self_check"]
    assert set(carried) == {"checks", "passed", "figures", "agreed", "deviations", "failed", "installed_files"}
    assert carried["checks"] == carried["passed"] > 30
    assert carried["failed"] == []


def test_the_summary_is_that_of_the_full_self_check():
    assert self_check_summary() == self_check().summary


def test_the_hash_is_the_one_that_a_list_of_checksums_gives(copied):
    lines = ""
    for name in sorted(p.relative_to(copied).as_posix() for p in copied.rglob("*") if p.is_file()):
        lines += f"{hashlib.sha256((copied / name).read_bytes()).hexdigest()}  {name}\n"
    assert installed_files_hash(copied) == hashlib.sha256(lines.encode()).hexdigest()


def test_a_changed_byte_changes_the_hash_and_byte_code_and_tests_do_not(copied):
    before = installed_files_hash(copied)
    for folder in ("stats/__pycache__", "studies/recovery/tests"):
        (copied / folder).mkdir(parents=True)
        (copied / folder / "anything.pyc").write_bytes(b"x")
    (copied / ".editor").write_text("x", "utf-8")
    assert installed_files_hash(copied) == before
    (copied / "stats" / "horwitz.py").write_text("# changed", "utf-8")
    assert installed_files_hash(copied) != before


def test_the_copy_has_the_hash_of_the_original(copied):
    assert installed_files_hash(copied) == installed_files_hash()
