"""validate plan and validate new as a laboratory types them: files, exit codes, nothing lost."""

import io
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import openpyxl
import pytest

from validate.cli import main
from validate.pipeline import prepare
from validate.pipeline.planning import plan, render_plan
from validate.planning.starting import purposes
from validate.studies.discovery import kinds, starter_text

ROOT = Path(__file__).parents[2]
STARTERS = [kind for kind in kinds() if starter_text(kind)]
SERVED = [purpose for purpose in purposes() if any(purpose in kinds()[kind].expected_by for kind in STARTERS)]


@pytest.fixture
def protocol(tmp_path, protocol_text) -> Path:
    folder = tmp_path / "lab"
    folder.mkdir()
    (folder / "protocol.yaml").write_text(protocol_text, "utf-8")
    return folder


def files(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_plan_writes_sheet_pages_and_workbook_and_prints_the_seed(protocol, tmp_path, capsys):
    assert main(["plan", str(protocol), "--out", str(tmp_path / "out")]) == 0
    written = files(tmp_path / "out")
    assert set(written) == {"bench.html", "bench.pdf", "entry.xlsx"}
    assert written["bench.pdf"].startswith(b"%PDF")
    assert "seed of the order: 7, as the protocol says" in capsys.readouterr().out


def test_tables_need_not_be_there_yet(protocol, tmp_path, protocol_text):
    text = protocol_text.replace(
        "    contamination:", "    data: {file: entry.xlsx, sheet: recovery}\n    contamination:"
    )
    (protocol / "protocol.yaml").write_text(text, "utf-8")
    assert main(["plan", str(protocol), "--out", str(tmp_path / "out"), "--no-pdf"]) == 0


def test_same_protocol_gives_the_same_bytes_in_any_time_zone_locale_and_hash_seed(protocol, tmp_path):
    def made(name: str, **environment: str) -> dict[str, bytes]:
        run = subprocess.run(
            [sys.executable, "-m", "validate", "plan", str(protocol), "--out", str(tmp_path / name)],
            env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
            cwd=tmp_path,
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert run.returncode == 0, run.stderr
        return files(tmp_path / name)

    assert made("a", PYTHONHASHSEED="1", TZ="UTC", LC_ALL="C.UTF-8") == made(
        "b", PYTHONHASHSEED="2", TZ="Asia/Tokyo", LC_ALL="C"
    )


def test_workbook_with_results_is_not_overwritten_and_nothing_else_is_written(protocol, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["plan", str(protocol), "--out", str(out), "--no-pdf"]) == 0
    assert main(["plan", str(protocol), "--out", str(out), "--no-pdf"]) == 0
    book = openpyxl.load_workbook(io.BytesIO((out / "entry.xlsx").read_bytes()))
    book["recovery"]["F2"] = 4.7
    book.save(out / "entry.xlsx")
    before = files(out)
    text = (protocol / "protocol.yaml").read_text("utf-8")
    (protocol / "protocol.yaml").write_text(text.replace("seed: 7", "seed: 8"), "utf-8")
    assert main(["plan", str(protocol), "--out", str(out), "--no-pdf"]) == 2
    assert files(out) == before
    assert "may hold results" in capsys.readouterr().err


def test_workbook_that_nobody_saved_is_made_anew_after_a_change_of_the_protocol(protocol, tmp_path):
    out = tmp_path / "out"
    assert main(["plan", str(protocol), "--out", str(out), "--no-pdf"]) == 0
    before = (out / "entry.xlsx").read_bytes()
    text = (protocol / "protocol.yaml").read_text("utf-8")
    (protocol / "protocol.yaml").write_text(text.replace("seed: 7", "seed: 8"), "utf-8")
    assert main(["plan", str(protocol), "--out", str(out), "--no-pdf"]) == 0
    assert (out / "entry.xlsx").read_bytes() != before


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04", b"not a workbook"])
def test_anything_else_under_the_name_of_the_workbook_is_left_alone(protocol, tmp_path, content):
    (tmp_path / "entry.xlsx").write_bytes(content)
    assert main(["plan", str(protocol), "--out", str(tmp_path), "--no-pdf"]) == 2
    assert (tmp_path / "entry.xlsx").read_bytes() == content


def test_spike_below_the_smallest_pipette_exits_with_2_and_writes_nothing(protocol, tmp_path, capsys):
    text = (protocol / "protocol.yaml").read_text("utf-8")
    (protocol / "protocol.yaml").write_text(text.replace("levels: [1,", "levels: [0.5,"), "utf-8")
    assert main(["plan", str(protocol), "--out", str(tmp_path / "out")]) == 2
    assert not (tmp_path / "out").exists()
    told = capsys.readouterr().err
    assert "protocol.yaml:21:23  level 0.5 µg/kg needs 10 µL of standard" in told
    assert "dilute standard 1 in 2 to 500 ng/mL" in told


def test_folder_that_cannot_be_written_exits_with_3(protocol, tmp_path, capsys):
    (tmp_path / "taken").write_text("a file", "utf-8")
    assert main(["plan", str(protocol), "--out", str(tmp_path / "taken" / "out"), "--no-pdf"]) == 3
    assert "cannot write to" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("kind", "design"),
    [
        ("recovery", "{levels: [5], replicates: 999999, days: 999999}"),
        ("precision", "{kind: one-way, outer: {column: day, called: day}, groups: 999999, replicates: 999999}"),
    ],
)
def test_design_of_a_million_days_is_refused_at_once(kind, design, tmp_path, protocol_text, capsys):
    head = protocol_text.partition("studies:")[0]
    more = "    contamination: spiked before extraction\n" if kind == "recovery" else ""
    (tmp_path / "protocol.yaml").write_text(f"{head}studies:\n  s:\n    kind: {kind}\n    design: {design}\n{more}")
    assert main(["plan", str(tmp_path), "--out", str(tmp_path / "out")]) == 2
    assert "plans more than 5000 positions" in capsys.readouterr().err


@pytest.mark.slow
def test_five_hundred_samples_are_planned_in_two_seconds(protocol):
    """Order, spikes, chances, HTML and workbook, imports included in what came before; the PDF is set apart."""
    text = (protocol / "protocol.yaml").read_text("utf-8")
    many = text.replace("levels: [1, 5, 40], replicates: 2", "levels: [1, 2, 5, 10, 40], replicates: 10")
    many = many.replace("days: 6", "days: 10")
    (protocol / "protocol.yaml").write_text(many, "utf-8")
    prepared = prepare(protocol, with_tables=False)
    began = time.perf_counter()
    made = plan(prepared)
    render_plan(made, with_pdf=False)
    assert time.perf_counter() - began < 2
    assert len(made.plan.studies[0].placed) == 500


@pytest.mark.parametrize("name", [*STARTERS, *SERVED])
def test_first_protocol_of_every_kind_and_purpose_passes_check_and_can_be_planned(name, tmp_path, capsys):
    folder = tmp_path / "new"
    assert main(["new", name, str(folder)]) == 0
    assert set(files(folder)) == {"protocol.yaml", "entry.xlsx"}
    capsys.readouterr()
    assert main(["check", str(folder)]) == 0
    assert capsys.readouterr().err == ""
    assert main(["plan", str(folder), "--out", str(folder), "--no-pdf"]) == 0, "its workbook is that of its plan"


def test_first_protocol_of_a_purpose_has_every_kind_that_the_purpose_expects(tmp_path):
    for purpose in SERVED:
        main(["new", purpose, str(tmp_path / purpose)])
        prepared = prepare(tmp_path / purpose)
        expected = {kind for kind in STARTERS if purpose in kinds()[kind].expected_by}
        assert expected <= {kind.kind for kind in prepared.studies.values()}
        assert prepared.protocol.purpose == purpose


@pytest.mark.parametrize("name", ["protocol.yaml", "entry.xlsx"])
def test_new_overwrites_nothing(name, tmp_path, capsys):
    (tmp_path / name).write_text("mine", "utf-8")
    assert main(["new", "recovery", str(tmp_path)]) == 2
    assert files(tmp_path) == {name: b"mine"}
    assert f"{name} is already there; nothing was written" in capsys.readouterr().err


def test_unknown_name_is_answered_with_the_known_ones(tmp_path, capsys):
    assert main(["new", "recovry", str(tmp_path / "x")]) == 2
    told = capsys.readouterr().err
    assert "did you mean recovery?" in told
    assert all(kind in told for kind in STARTERS) and "verification" in told
    assert not (tmp_path / "x").exists()


def test_starter_needs_no_hand_written_list_of_kinds(tmp_path):
    """A copy of the package without one kind still starts and plans the others."""
    shutil.copytree(ROOT / "validate", tmp_path / "validate", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.rmtree(tmp_path / "validate" / "studies" / "precision")
    run = subprocess.run(
        [sys.executable, "-m", "validate", "new", "recovery", "first"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert run.returncode == 0, run.stderr
