"""A kind of study is one folder: complete, and removable without touching anything else."""

import os
import re
import shutil
import subprocess
import sys
from html import unescape
from pathlib import Path

import pytest

from validate import evaluate, load
from validate.dossier.html import render_html
from validate.studies.discovery import bench_template, kinds, section_template, starter_text

ROOT = Path(__file__).parents[2]
STUDIES = ROOT / "validate" / "studies"
EVERY_KIND = sorted(kinds())


@pytest.mark.parametrize("kind", EVERY_KIND)
def test_folder_of_a_study_is_complete(kind):
    folder = STUDIES / kind
    missing = [n for n in ("README.md", "study.py", "section.html") if not (folder / n).is_file()]
    assert missing == []
    assert list((folder / "tests").glob("test_*.py"))
    assert (folder / "example" / "protocol.yaml").is_file()
    assert kinds()[kind].kind == kind


@pytest.mark.parametrize("kind", EVERY_KIND)
def test_kind_with_a_bench_plan_has_its_sheet_and_a_starter(kind):
    if kinds()[kind].plan is not None:
        assert bench_template(kind) and starter_text(kind)


@pytest.mark.parametrize("kind", EVERY_KIND)
def test_every_setting_and_column_of_a_study_is_documented(kind):
    study = kinds()[kind]
    fields = {name: field for name, field in study.settings.model_fields.items() if name not in {"kind", "title"}}
    bare = [name for name, field in fields.items() if not field.description]
    assert bare == []
    assert [column.role for column in study.columns if not column.title] == []


def words(text: str) -> str:
    """Letters and digits without markup: a subscript is set differently from how it is declared."""
    return re.sub(r"[\W_]", "", unescape(re.sub(r"<[^>]*>", "", text)))


@pytest.mark.parametrize("kind", EVERY_KIND)
def test_example_of_a_study_is_evaluated_and_shows_its_findings_in_its_section(kind):
    work = load(STUDIES / kind / "example")
    evaluation = evaluate(work)
    page = words(render_html(evaluation, work.inputs, {kind: section_template(kind)}).decode())
    shown = [f for s in evaluation.studies if s.kind == kind for f in s.as_reported.findings]
    assert shown
    titles = {k.name: k.title for s in evaluation.studies for k in s.kinds_of_finding}
    assert [titles[f.name] for f in shown if words(titles[f.name]) not in page] == []


@pytest.mark.parametrize("kind", EVERY_KIND)
def test_findings_of_a_study_are_declared_ones(kind):
    evaluation = evaluate(load(STUDIES / kind / "example"))
    declared = {finding.name for finding in kinds()[kind].findings}
    found = {f.name for s in evaluation.studies if s.kind == kind for f in s.as_reported.findings}
    assert found <= declared


EVALUATE_EVERY_EXAMPLE = """
from pathlib import Path
from validate.dossier.html import render_html
from validate.pipeline import evaluate, prepare
from validate.studies.discovery import kinds, section_template
for kind in kinds():
    work = prepare(Path("validate/studies") / kind / "example")
    templates = {each.kind: section_template(each.kind) for each in work.studies.values()}
    assert render_html(evaluate(work), work.inputs, templates)
print(*sorted(kinds()))
"""


@pytest.mark.parametrize("kind", EVERY_KIND)
def test_package_without_one_study_folder_still_evaluates_the_others(kind, tmp_path):
    """No hand-written file names a kind of study: the rest works when a folder is gone."""
    shutil.copytree(ROOT / "validate", tmp_path / "validate", ignore=shutil.ignore_patterns("__pycache__", "tests"))
    shutil.rmtree(tmp_path / "validate" / "studies" / kind)
    run = subprocess.run(
        [sys.executable, "-c", EVALUATE_EVERY_EXAMPLE],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert run.returncode == 0, run.stderr
    assert run.stdout.split() == [other for other in EVERY_KIND if other != kind]
