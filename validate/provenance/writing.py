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
    the disk; only then are the old ones replaced, one atomic rename each. `remove` names
    files of an earlier dossier that must not be left beside the new one. Raises
    EnvironmentFails when the folder cannot be written; the earlier files are then intact.
    """
    waiting: dict[Path, Path] = {}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            place = folder / name
            place.parent.mkdir(parents=True, exist_ok=True)
            partial = place.with_name(f".{place.name}.partial")
            waiting[partial] = place
            with partial.open("wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
        for partial, place in waiting.items():
            os.replace(partial, place)
        for name in remove:
            (folder / name).unlink(missing_ok=True)
    except OSError as error:
        raise EnvironmentFails(f"cannot write to {folder}: {error.strerror or error}") from error
    finally:
        for partial in waiting:
            _forget(partial)


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


def _forget(partial: Path) -> None:
    try:
        partial.unlink(missing_ok=True)
    except OSError:
        # A folder that became read-only keeps its partial file; the message on the failed write says why.
        return
