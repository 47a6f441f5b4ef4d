"""An installation whose formulas, limits or files were changed does not pass."""

from __future__ import annotations

import base64
import hashlib
import shutil
from pathlib import Path

import pytest

from validate.provenance.environment import DISTRIBUTION

ROOT = Path(__file__).parents[2]
BROKEN = {
    "recovery in the wrong scale": (
        "stats/trueness.py", "per_amount = 100 / amount", "per_amount = 100.01 / amount", "by-hand-recovery",
    ),
    "blanks without their own error": (
        "stats/detection_blanks.py", "unit = sd * math.sqrt(1 / replicates + 1 / len(x))", "unit = sd", "eurl-lod",
    ),
    "one-sided limits of a mean": (
        "stats/intervals.py", "t = t_quantile((1 + confidence(level)) / 2", "t = t_quantile(confidence(level)",
        "r-means-and-differences",
    ),
    "inverse prediction without the error of the line": (
        "stats/calibration_inverse.py", "s_x = s / abs(b) * math.sqrt(own + fit.leverage(x))",
        "s_x = s / abs(b) * math.sqrt(own)", "r-lines",
    ),
    "squares summed by the textbook formula": (
        "stats/_sums.py", "squares = total(deviation * deviation) - len(values) * rest * rest",
        "squares = float((values * values).sum() - values.sum() ** 2 / len(values))", "nist-univariate",
    ),
    "a call that fails": (
        "stats/uncertainty_budget.py", "q = len(found)\n", "q = len(found) / 0\n", "by-hand-uncertainty",
    ),
    "a published limit": (
        "criteria/sets/eu-2023-2782.toml", "between = [70, 120]", "between = [70, 130]", "eu-2023-2782",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BROKEN)
def test_one_change_in_a_formula_or_limit_is_found_and_the_check_named(name, break_copy, run_copy):
    file, old, new, check = BROKEN[name]
    break_copy(file, old, new)
    run = run_copy("self-check")
    assert run.returncode == 1, run.stderr
    assert f"not reached  {check}, " in run.stdout
    assert "Traceback" not in run.stderr


def test_a_dossier_made_by_a_broken_installation_says_so_on_its_first_page(break_copy, run_copy, tmp_path):
    shutil.copytree(ROOT / "validate" / "studies" / "recovery" / "example", tmp_path / "example")
    arguments = ("dossier", "example", "--out", "out", "--no-pdf")
    warning = "did not reach its own check values"
    assert run_copy(*arguments).returncode == 0
    assert warning not in (tmp_path / "out" / "dossier.html").read_text("utf-8")
    break_copy(*BROKEN["recovery in the wrong scale"][:3])
    assert run_copy(*arguments).returncode == 0
    page = (tmp_path / "out" / "dossier.html").read_text("utf-8")
    assert warning in page.partition('id="conclusion"')[0]


def test_without_check_values_the_environment_fails(copied, run_copy):
    for path in (copied / "checks").glob("*.toml"):
        path.unlink()
    run = run_copy("self-check")
    assert run.returncode == 3
    assert "install the package anew" in run.stderr


def test_a_damaged_check_file_makes_the_environment_fail(copied, run_copy):
    (copied / "checks" / "thompson.toml").write_text("id = ", "utf-8")
    run = run_copy("self-check")
    assert run.returncode == 3
    assert "Traceback" not in run.stderr


@pytest.fixture
def recorded(copied) -> Path:
    """The copy with the record that an installer leaves beside it."""
    lines = []
    for path in sorted(p for p in copied.rglob("*") if p.is_file()):
        digest = base64.urlsafe_b64encode(hashlib.sha256(path.read_bytes()).digest()).rstrip(b"=").decode()
        lines.append(f"{path.relative_to(copied.parent).as_posix()},sha256={digest},{path.stat().st_size}")
    info = copied.parent / f"{DISTRIBUTION.replace('-', '_')}-0.1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {DISTRIBUTION}\nVersion: 0.1.0\n", "utf-8")
    (info / "RECORD").write_text("\n".join(lines) + "\n", "utf-8")
    return copied


def test_files_as_the_installer_recorded_them_pass(recorded, run_copy):
    assert run_copy("self-check").returncode == 0


def test_an_altered_and_a_missing_file_are_named_although_every_figure_agrees(recorded, run_copy):
    with (recorded / "stats" / "horwitz.py").open("a", encoding="utf-8") as file:
        file.write("# a comment\n")
    (recorded / "checks" / "thompson.toml").unlink()
    run = run_copy("self-check")
    assert run.returncode == 1
    assert "altered since it was installed  validate/stats/horwitz.py" in run.stdout
    assert "altered since it was installed  validate/checks/thompson.toml" in run.stdout
