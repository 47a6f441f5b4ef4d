"""The commands as a laboratory types them: exit codes, messages, files."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from validate.cli import main

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "validate" / "studies" / "recovery" / "example"
FILES = {"dossier.html", "dossier.pdf", "evaluation.json", "manifest.json", "outputs.json"}


@pytest.fixture
def example(tmp_path) -> Path:
    shutil.copytree(EXAMPLE, tmp_path / "example")
    return tmp_path / "example"


def test_check_of_a_sound_protocol_exits_with_0_and_says_so(example, capsys):
    assert main(["check", str(example)]) == 0
    assert "can be evaluated" in capsys.readouterr().out


def test_protocol_may_be_named_as_file_or_folder(example):
    assert main(["check", str(example / "protocol.yaml")]) == main(["check", str(example)]) == 0


def test_dossier_writes_its_five_files(example, tmp_path):
    assert main(["dossier", str(example), "--out", str(tmp_path / "out")]) == 0
    assert {path.name for path in (tmp_path / "out").iterdir()} == FILES
    assert (tmp_path / "out" / "dossier.pdf").read_bytes().startswith(b"%PDF")


def test_every_problem_is_named_at_once_with_place_and_mend(example, capsys):
    text = (example / "protocol.yaml").read_text("utf-8")
    (example / "protocol.yaml").write_text(
        text.replace("purpose: ", "purpose: made-up-").replace("intended_use: ", "intended_uze: "), "utf-8"
    )
    assert main(["check", str(example)]) == 2
    told = capsys.readouterr().err
    assert "intended_uze" in told and "intended_use" in told
    assert "made-up-" in told
    assert f"{example}/protocol.yaml:" in told
    assert "Traceback" not in told


def test_bad_input_leaves_an_earlier_dossier_alone(example, tmp_path):
    out = tmp_path / "out"
    assert main(["dossier", str(example), "--out", str(out), "--no-pdf"]) == 0
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    (example / "protocol.yaml").write_text("format: 2\n", "utf-8")
    assert main(["dossier", str(example), "--out", str(out)]) == 2
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before


def test_strict_exits_with_1_when_a_criterion_is_not_shown(tmp_path):
    demo = str(ROOT / "protocols" / "coffee")
    arguments = ["dossier", demo, "--out", str(tmp_path / "out"), "--no-pdf"]
    assert main(arguments) == 0
    conclusion = json.loads((tmp_path / "out" / "evaluation.json").read_bytes())["conclusion"]
    assert conclusion["not_met"] + conclusion["not_shown"] > 0
    assert main([*arguments, "--strict"]) == 1


def test_protocol_that_is_not_there_is_an_input_problem(tmp_path, capsys):
    assert main(["check", str(tmp_path / "nowhere")]) == 2
    assert "nowhere" in capsys.readouterr().err


def test_folder_that_cannot_be_written_exits_with_3(example, tmp_path, capsys):
    (tmp_path / "taken").write_text("a file", "utf-8")
    assert main(["dossier", str(example), "--out", str(tmp_path / "taken"), "--no-pdf"]) == 3
    assert "cannot write to" in capsys.readouterr().err


def test_unknown_option_is_a_usage_error():
    with pytest.raises(SystemExit) as stopped:
        main(["dossier", "--colour"])
    assert stopped.value.code == 2


def test_without_the_text_layout_library_the_page_is_written_and_the_packages_are_named(example, tmp_path):
    """The library is hidden by making its loading fail, as on a machine without it."""
    out = tmp_path / "out"
    out.mkdir()
    (out / "dossier.pdf").write_bytes(b"of an earlier dossier")
    hidden = "import cffi; cffi.FFI.dlopen = lambda *a, **k: (_ for _ in ()).throw(OSError('no library'))\n"
    asked = ["dossier", str(example), "--out", str(out)]
    code = hidden + f"from validate.cli import main; raise SystemExit(main({asked!r}))"
    run = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert run.returncode == 3, run.stderr
    assert "libpango-1.0-0" in run.stderr
    assert {path.name for path in out.iterdir()} == FILES - {"dossier.pdf"}


def test_same_input_gives_the_same_bytes_in_any_folder_time_zone_locale_and_hash_seed(example, tmp_path):
    (example / "recovery.csv").write_text(
        (example / "recovery.csv").read_text("utf-8").replace("\n", ",unread\n"), "utf-8"
    )  # an extra column, so that there is a notice with a place in it

    def files(name: str, typed: str, **environment: str) -> dict[str, bytes]:
        folder = tmp_path / name
        shutil.copytree(example, folder / "protocol")
        run = subprocess.run(
            [sys.executable, "-m", "validate", "dossier", typed, "--out", "out"],
            cwd=folder,
            env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert run.returncode == 0, run.stderr
        return {path.name: path.read_bytes() for path in (folder / "out").iterdir()}

    first = files("here", "protocol", PYTHONHASHSEED="1", TZ="UTC", LC_ALL="C.UTF-8")
    there = str(tmp_path / "there" / "protocol" / "protocol.yaml")
    second = files("there", there, PYTHONHASHSEED="2", TZ="Asia/Tokyo", LC_ALL="C")
    assert b"unread" in first["evaluation.json"]
    assert [name for name in FILES if first[name] != second[name]] == []


def test_progress_is_quiet_when_not_on_a_terminal(example, tmp_path, capsys):
    main(["dossier", str(example), "--out", str(tmp_path / "out"), "--no-pdf"])
    assert "\r" not in capsys.readouterr().err


def test_schema_and_criteria_are_printed(capsys):
    assert main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out)["type"] == "object"
    assert main(["criteria"]) == 0
    assert "2023/2782" in capsys.readouterr().out
