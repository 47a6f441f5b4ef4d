"""Write a dossier's files so that an earlier dossier is replaced only by a complete one."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping
from pathlib import Path


class EnvironmentFails(Exception):
    """The machine, not the input, is in the way: disk, permissions, missing system libraries."""


def write_files(folder: Path, files: Mapping[str, bytes], *, remove: Iterable[str] = ()) -> None:
    """Write `files` (name → content) into `folder`; all of them, or none.

    Every file is first written whole under a hidden name beside its place and flushed to
    the disk; only then are the old ones set aside and the new ones put in their places, by
    renaming. `remove` names files of an earlier dossier that must not be left beside the new
    one. Raises EnvironmentFails when the folder cannot be written; the earlier files are
    then as they were.
    """
    partial = {name: _hidden(folder / name, "partial") for name in files}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            partial[name].parent.mkdir(parents=True, exist_ok=True)
            with partial[name].open("wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
        _exchange(folder, partial, remove)
    except OSError as error:
        raise EnvironmentFails(f"cannot write to {folder}: {error.strerror or error}") from error
    finally:
        for path in partial.values():
            _forget(path)


def left_behind(folder: Path, files: Mapping[str, bytes]) -> list[str]:
    """Files of the earlier dossier in `folder` that the new one does not have: a page of a laboratory that is gone.

    Only what the earlier outputs.json names counts, and only inside the folder; anything else there is not ours.
    """
    try:
        listed = json.loads((folder / "outputs.json").read_bytes())["files"]
        names = [str(entry["name"]) for entry in listed]
    except (OSError, ValueError, KeyError, TypeError):
        return []
    inside = [name for name in names if not {"", ".", ".."} & set(name.split("/")) and "\\" not in name]
    return [name for name in inside if name not in files and (folder / name).is_file()]


def _exchange(folder: Path, partial: Mapping[str, Path], remove: Iterable[str]) -> None:
    """Put the new files in their places; when one rename fails, put everything back."""
    set_aside: list[str] = []
    placed: list[str] = []
    try:
        for name in dict.fromkeys((*partial, *remove)):
            if os.path.lexists(folder / name):
                os.replace(folder / name, _hidden(folder / name, "earlier"))
                set_aside.append(name)
        for name, path in partial.items():
            os.replace(path, folder / name)
            placed.append(name)
    except OSError:
        for name in placed:
            _forget(folder / name)
        for name in set_aside:
            os.replace(_hidden(folder / name, "earlier"), folder / name)
        raise
    for name in set_aside:
        _forget(_hidden(folder / name, "earlier"))


def _hidden(place: Path, state: str) -> Path:
    return place.with_name(f".{place.name}.{state}")


def _forget(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except OSError:
        # A folder that became read-only keeps its hidden file; the message on the failed write says why.
        return
