"""Open a dossier that nobody vouches for: a PDF, or the folder that `validate dossier` wrote.

Nothing in it is trusted: sizes and counts are bounded, names must stay inside a folder, no
code runs. What cannot be a dossier raises NotADossier.
"""

from __future__ import annotations

import base64
import binascii
import json
import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from validate.provenance.carrying import EVALUATION, MANIFEST, TEXT
from validate.provenance.page_text import page_text

PAGE, PDF = "dossier.html", "dossier.pdf"
LARGEST_FILE_BYTES = 400_000_000
LONGEST_NAME = 200
SECONDS = 90
_PACKAGE_FOLDER = Path(__file__).parents[2]


class NotADossier(Exception):
    """The file is not a dossier of this software, or is damaged; the message says which and why."""


@dataclass(frozen=True)
class PrintedPages:
    """What stands on the pages of a PDF."""

    lines: tuple[tuple[str, ...], ...]
    heads: tuple[str, ...]
    """For each page its running head and foot."""
    strange: tuple[str, ...]


@dataclass(frozen=True)
class Opened:
    """A dossier taken apart. `text` is the plain text of the words (carried, or read from the page)."""

    files: Mapping[str, bytes]
    text: str
    pages: PrintedPages | None
    found: tuple[str, ...] = ()
    """What does not fit together, found while opening."""
    beside: Mapping[str, bytes] = field(default_factory=dict)
    """Files beside the page of a folder, as they are: for outputs.json."""


def open_dossier(path: Path) -> Opened:
    """The dossier at `path`, a PDF or a folder. Raises NotADossier."""
    try:
        if path.is_dir():
            return _open_folder(path)
        with path.open("rb"):
            return _open_pdf(path)
    except OSError as error:
        raise NotADossier(f"{path} cannot be read: {error.strerror or error}") from error


def _open_pdf(path: Path) -> Opened:
    files, pages = _taken_apart(path)
    if MANIFEST not in files:
        raise NotADossier(
            f"{path.name} carries no {MANIFEST}: it is no dossier of this software, "
            "or one made for an archive that refuses attachments (recompute its folder instead)"
        )
    return Opened(files, _decoded(files.get(TEXT, b"")), pages)


def _taken_apart(path: Path) -> tuple[dict[str, bytes], PrintedPages]:
    """Attachments and printed pages of a PDF."""
    answer = _read_in_child(path)
    if "damaged" in answer:
        raise NotADossier(f"{path.name} cannot be read as a PDF: {answer['damaged']}")
    files: dict[str, bytes] = {}
    for item in answer["attachments"]:
        name = _checked_name(item["name"])
        if name in files:
            raise NotADossier(f"two attachments have the name {name!a}")
        files[name] = base64.b64decode(item["content"])
    pages = tuple(tuple(page) for page in answer["pages"])
    return files, PrintedPages(pages, tuple(answer["heads"]), tuple(answer["strange"]))


def _read_in_child(path: Path) -> dict[str, Any]:
    """The PDF is read in a process of its own: a bomb or a fault of the library ends that process only."""
    paths = os.pathsep.join([str(_PACKAGE_FOLDER), os.environ.get("PYTHONPATH", "")])
    try:
        child = subprocess.run(
            [sys.executable, "-m", "validate.provenance.pdf_child", str(path.absolute())],
            env={**os.environ, "PYTHONPATH": paths},
            capture_output=True,
            timeout=SECONDS,
        )
        return json.loads(child.stdout)
    except subprocess.TimeoutExpired:
        raise NotADossier(f"{path.name} takes longer to read than any dossier") from None
    except ValueError:
        raise NotADossier(
            f"{path.name} cannot be read as a PDF: it needs more memory or time than any dossier"
        ) from None


def _open_folder(folder: Path) -> Opened:
    beside = {name: _read(folder, name) for name in (PAGE, EVALUATION, MANIFEST)}
    missing = [name for name, content in beside.items() if content is None]
    if missing:
        raise NotADossier(f"{folder} is no folder of a dossier: {' and '.join(missing)} not there")
    page = beside[PAGE]
    carried = _carried_in(page)
    found = []
    if carried.get(MANIFEST) != beside[MANIFEST]:
        found.append(f"{MANIFEST} differs from the one carried in {PAGE}")
    files = carried | {EVALUATION: beside[EVALUATION], MANIFEST: beside[MANIFEST]}
    text, pages = page_text(page), None
    if (folder / PDF).exists():
        attached, pages = _taken_apart(folder / PDF)
        names = sorted(files.keys() | (attached.keys() - {TEXT})) if attached else []
        found += [
            f"{name} in {PDF} differs from the one in {PAGE} or beside it"
            for name in names
            if files.get(name) != attached.get(name)
        ]
    others = {name: content for name in (PDF, "outputs.json") if (content := _read(folder, name)) is not None}
    return Opened(files, text, pages, tuple(found), {**beside, **others})


def _read(folder: Path, name: str) -> bytes | None:
    path = folder / name
    if not path.exists():
        return None
    if not path.is_file() or path.is_symlink() or path.stat().st_size > LARGEST_FILE_BYTES:
        raise NotADossier(f"{name} is no plain file, or larger than any dossier")
    return path.read_bytes()


def _carried_in(page: bytes) -> dict[str, bytes]:
    reader = _CarriedReader()
    try:
        reader.feed(page.decode("utf-8"))
    except UnicodeDecodeError:
        raise NotADossier(f"{PAGE} is no UTF-8 text") from None
    files: dict[str, bytes] = {}
    for name, address in reader.found:
        name = _checked_name(name)
        if name in files:
            raise NotADossier(f"{PAGE} carries two files of the name {name!a}")
        try:
            files[name] = base64.b64decode(address.partition(",")[2], validate=True)
        except binascii.Error:
            raise NotADossier(f"{PAGE}: the carried file {name!a} is damaged") from None
    return files


class _CarriedReader(HTMLParser):
    """Finds the links of a page that carry a file."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[tuple[str, str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        if tag == "a" and "data-carried" in values:
            self.found.append((values["data-carried"] or "", values.get("href") or ""))


def _checked_name(name: str) -> str:
    """`name` when it stays inside a folder on every system; raises NotADossier."""
    parts = name.split("/")
    plain = all(part not in ("", ".", "..") and not part.endswith((" ", ".")) for part in parts)
    allowed = name.isprintable() and not set('\\:*?"<>|') & set(name)
    if not (plain and allowed and len(name) <= LONGEST_NAME):
        raise NotADossier(f"an attachment has a name that leads out of its folder or is none: {name[:80]!a}")
    return name


def _decoded(content: bytes) -> str:
    return content.decode("utf-8", errors="replace")
