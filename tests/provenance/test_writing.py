"""An earlier dossier is replaced only by a complete one."""

import os
from pathlib import Path

import pytest

from validate.provenance import writing
from validate.provenance.writing import EnvironmentFails, left_behind, write_files

OLD = {"dossier.html": b"old page", "dossier.pdf": b"old pdf", "evaluation.json": b"old"}
NEW = {"dossier.html": b"new page", "dossier.pdf": b"new pdf", "evaluation.json": b"new"}


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_all_files_are_replaced_and_strangers_are_left_alone(tmp_path):
    write_files(tmp_path, OLD)
    (tmp_path / "notes.txt").write_bytes(b"mine")
    write_files(tmp_path, NEW)
    assert contents(tmp_path) == NEW | {"notes.txt": b"mine"}


def test_pdf_of_an_earlier_dossier_is_not_left_beside_a_new_page(tmp_path):
    write_files(tmp_path, OLD)
    write_files(tmp_path, {"dossier.html": b"new page"}, remove=["dossier.pdf"])
    assert "dossier.pdf" not in contents(tmp_path)


@pytest.mark.parametrize("failing", [1, 2, 3])
def test_failure_at_any_write_leaves_the_earlier_dossier_whole(tmp_path, monkeypatch, failing):
    write_files(tmp_path, OLD)
    calls = []

    def full_disk(descriptor: int) -> None:
        calls.append(descriptor)
        if len(calls) == failing:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(writing.os, "fsync", full_disk)
    with pytest.raises(EnvironmentFails, match="No space left on device"):
        write_files(tmp_path, NEW)
    assert contents(tmp_path) == OLD


@pytest.mark.parametrize("failing", range(1, 7))
def test_failure_at_any_rename_leaves_the_earlier_dossier_whole(tmp_path, monkeypatch, failing):
    """Three old files are set aside and three new ones put in their places: any of the six may fail."""
    write_files(tmp_path, OLD)
    rename, calls = os.replace, []

    def failing_rename(source, target):
        calls.append(source)
        if len(calls) == failing:
            raise PermissionError(13, "Permission denied")
        rename(source, target)

    monkeypatch.setattr(writing.os, "replace", failing_rename)
    with pytest.raises(EnvironmentFails, match="Permission denied"):
        write_files(tmp_path, NEW, remove=["notes.txt"])
    assert contents(tmp_path) == OLD


@pytest.mark.parametrize("failing", range(1, 4))
def test_failure_at_any_opening_leaves_the_earlier_dossier_whole(tmp_path, monkeypatch, failing):
    write_files(tmp_path, OLD)
    real, calls = Path.open, []

    def failing_open(self, *arguments, **more):
        calls.append(self)
        if len(calls) == failing:
            raise OSError(30, "Read-only file system")
        return real(self, *arguments, **more)

    monkeypatch.setattr(writing.Path, "open", failing_open)
    with pytest.raises(EnvironmentFails, match="Read-only file system"):
        write_files(tmp_path, NEW)
    monkeypatch.undo()
    assert contents(tmp_path) == OLD


def test_failure_leaves_a_new_folder_empty(tmp_path, monkeypatch):
    monkeypatch.setattr(writing.os, "replace", _refuse)
    with pytest.raises(EnvironmentFails):
        write_files(tmp_path / "new", NEW)
    assert contents(tmp_path / "new") == {}


def _refuse(*_):
    raise OSError(28, "No space left on device")


def test_folder_that_is_a_file_is_told(tmp_path):
    (tmp_path / "out").write_bytes(b"")
    with pytest.raises(EnvironmentFails, match="cannot write to"):
        write_files(tmp_path / "out", NEW)


@pytest.mark.skipif(os.geteuid() == 0, reason="an administrator may write anywhere")
def test_read_only_folder_is_told(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(EnvironmentFails, match="cannot write to"):
        write_files(tmp_path, NEW)


def test_files_in_folders_below_are_written_and_replaced(tmp_path):
    write_files(tmp_path, {"participants/L1.html": b"old", "coded/dossier.html": b"old"})
    write_files(tmp_path, {"participants/L1.html": b"new"})
    assert (tmp_path / "participants" / "L1.html").read_bytes() == b"new"
    assert sorted(p.name for p in (tmp_path / "participants").iterdir()) == ["L1.html"]


def test_a_page_of_an_earlier_dossier_is_known_by_its_outputs_and_nothing_else_is(tmp_path):
    listed = b'{"files": [{"name": "participants/L1.html"}, {"name": "participants/L2.html"}, {"name": "../x.html"}]}'
    write_files(tmp_path / "out", {"participants/L1.html": b"1", "participants/L2.html": b"2", "outputs.json": listed})
    (tmp_path / "x.html").write_bytes(b"not ours")
    (tmp_path / "out" / "participants" / "notes.txt").write_bytes(b"not ours")
    assert left_behind(tmp_path / "out", {"participants/L2.html": b"new"}) == ["participants/L1.html"]
    assert left_behind(tmp_path, {}) == []
