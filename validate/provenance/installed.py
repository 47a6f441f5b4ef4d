"""The package as it is installed: one hash over its files, and whether they are as the installer left them."""

from __future__ import annotations

import base64
import hashlib
import platform
from collections.abc import Iterator
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

from validate.provenance.environment import DISTRIBUTION, environment, package_version
from validate.vocabulary.self_check import Installation

PACKAGE = Path(__file__).parents[1]
NOT_INSTALLED = frozenset({"__pycache__", "tests"})
"""Folders that are no part of what runs: byte code is made anew, tests do not ship."""


def installation(package: Path = PACKAGE) -> Installation:
    """The software, the platform and the versions on which its figures rest."""
    altered = altered_files(package)
    files = list(_files(package))
    return Installation(
        software=f"{DISTRIBUTION} {package_version(DISTRIBUTION)}",
        platform=f"{platform.system()} {platform.release()}, {platform.machine()}",
        versions=tuple((name, text) for name, text in sorted(environment().items()) if name != DISTRIBUTION),
        files=len(files),
        installed_files=_hash(package, files),
        recorded=altered is not None,
        altered=altered or (),
    )


def installed_files_hash(package: Path = PACKAGE) -> str:
    """SHA-256 over the files of the package: the same wherever the same release is installed.

    The hash of the text that has a line for each file in alphabetical order: its own
    SHA-256, two spaces, its path from the package's folder (as `sha256sum` prints it).
    """
    return _hash(package, _files(package))


def altered_files(package: Path = PACKAGE) -> tuple[str, ...] | None:
    """Files that are missing or differ from the installer's record; None where there is no such record."""
    try:
        found = distribution(DISTRIBUTION)
    except PackageNotFoundError:
        return None
    recorded = dict(_recorded(found, package))
    if not recorded:
        return None
    return tuple(
        sorted(path.as_posix() for path, wanted in recorded.items() if _digest(package.parent / path) != wanted)
    )


def _recorded(found: Distribution, package: Path) -> Iterator[tuple[Path, bytes]]:
    """Files of the package in the record of the installation that this package belongs to."""
    for file in found.files or ():
        path = Path(str(file))
        if path.parts[0] != package.name or file.hash is None or file.hash.mode != "sha256":
            continue
        if Path(str(found.locate_file(package.name))).resolve() != package.resolve():
            return
        yield path, base64.urlsafe_b64decode(file.hash.value + "=" * (-len(file.hash.value) % 4))


def _files(package: Path) -> Iterator[Path]:
    """Every file of the package, in the order of their paths as text."""
    found = {path.relative_to(package).as_posix(): path for path in package.rglob("*") if path.is_file()}
    for name in sorted(found):
        parts = name.split("/")
        if not NOT_INSTALLED & set(parts) and not any(part.startswith(".") for part in parts):
            yield found[name]


def _hash(package: Path, files: Iterator[Path] | list[Path]) -> str:
    whole = hashlib.sha256()
    for path in files:
        own = hashlib.sha256(path.read_bytes()).hexdigest()
        whole.update(f"{own}  {path.relative_to(package).as_posix()}\n".encode())
    return whole.hexdigest()


def _digest(path: Path) -> bytes:
    try:
        return hashlib.sha256(path.read_bytes()).digest()
    except OSError:
        return b""
