"""Read a file of the protocol's folder, and nothing else: no link, device or path leads outside."""

from __future__ import annotations

import difflib
import os
import stat
from itertools import islice
from pathlib import Path

from validate.vocabulary.place import Place
from validate.vocabulary.problem import InputRefused, Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)


def read_inside(folder: Path, name: str, *, largest_bytes: int) -> bytes:
    """The content of the file `name` (forward slashes) below `folder`.

    Every part of the path is looked at before the file is opened, and the opened file is
    compared with the one that was looked at. Raises InputRefused for an absolute path,
    `..`, a symbolic link anywhere below `folder`, a file with a second hard link, anything
    that is not a regular file, more than `largest_bytes`, and a file that cannot be read.
    The place of the problem is the file itself; a caller who knows better replaces it.
    """
    _refuse_path_outside(name)
    path = folder
    try:
        for part in name.split("/"):
            path = path / part
            seen = os.lstat(path)
            if stat.S_ISLNK(seen.st_mode) or os.path.islink(path):
                raise _refused("file-link", name)
        _refuse_special(seen, name)
        if seen.st_size > largest_bytes:
            raise _too_large(name, largest_bytes)
        return _read(path, seen, name, largest_bytes)
    except (FileNotFoundError, NotADirectoryError):
        raise _missing(folder, name) from None
    except OSError as error:
        raise _refused("file-unreadable", name, why=error.strerror or type(error).__name__) from None


def _refuse_path_outside(name: str) -> None:
    parts = name.split("/")
    if any(part in ("", ".", "..") or "\\" in part or ":" in part or "\0" in part for part in parts):
        raise _refused("file-outside", name)


def _refuse_special(seen: os.stat_result, name: str) -> None:
    if not stat.S_ISREG(seen.st_mode):
        raise _refused("file-not-regular", name)
    if seen.st_nlink > 1:
        raise _refused("file-hard-link", name)


def _read(path: Path, seen: os.stat_result, name: str, largest_bytes: int) -> bytes:
    # Some systems lack these flags; where they exist, a swapped-in link or pipe neither leads out nor blocks.
    flags = os.O_RDONLY
    for flag in ("O_NOFOLLOW", "O_NONBLOCK", "O_BINARY", "O_CLOEXEC"):
        flags |= getattr(os, flag, 0)
    with open(os.open(path, flags), "rb") as stream:
        opened = os.fstat(stream.fileno())
        if (opened.st_dev, opened.st_ino) != (seen.st_dev, seen.st_ino):
            raise _refused("file-link", name)
        content = stream.read(largest_bytes + 1)
    if len(content) > largest_bytes:
        raise _too_large(name, largest_bytes)
    return content


def _missing(folder: Path, name: str) -> InputRefused:
    try:
        present = [entry.name for entry in islice(os.scandir(folder), 1000)]
    except OSError:
        present = []
    near = difflib.get_close_matches(name, sorted(present), n=1)
    if near:
        return _refused("file-missing-near", name, near=near[0])
    return _refused("file-missing", name)


def _too_large(name: str, largest_bytes: int) -> InputRefused:
    return _refused("file-too-large", name, limit=f"{largest_bytes / 1e6:.0f} MB")


def _refused(code: str, name: str, **values: object) -> InputRefused:
    problem: Problem = PROBLEMS.problem(code, Place(name), file=name, **values)
    return InputRefused([problem])
