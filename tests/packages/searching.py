"""Everything that is in a file: its text, what is packed into it, its metadata and attachments, unpacked to the end."""

from __future__ import annotations

import base64
import html
import io
import json
import re
import zipfile
from collections.abc import Iterable
from pathlib import Path

import pikepdf

from validate.provenance.pdf_child import read


def everything(name: str, content: bytes, scratch: Path) -> str:
    """The texts in `content` one below the other; a printed PDF also without spaces and line breaks."""
    return "\n".join([name, *_texts(content, scratch)])


def found_in(text: str, looked_for: Iterable[str]) -> list[str]:
    """Which of the texts stand there, be they broken over lines or escaped."""
    flat = re.sub(r"\s+", "", text)
    return [words for words in looked_for if any(form in flat for form in _forms(words))]


def _forms(words: str) -> set[str]:
    return {re.sub(r"\s+", "", form) for form in (words, json.dumps(words)[1:-1], html.escape(words))}


def _texts(content: bytes, scratch: Path) -> list[str]:
    if content.startswith(b"%PDF"):
        return _of_pdf(content, scratch)
    if content.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            parts = [t for item in archive.namelist() for t in [item, *_texts(archive.read(item), scratch)]]
            return [*parts, archive.comment.decode("latin-1"), *(i.extra.decode("latin-1") for i in archive.infolist())]
    text = content.decode("utf-8", "replace")
    found = [re.sub(r"data:font[^)]*\)", "", text)]
    for data in re.findall(r"data:(?!font)[a-z0-9/+.;=-]+;base64,([A-Za-z0-9+/=]+)", text):
        found += _texts(base64.b64decode(data), scratch)
    return found


def _of_pdf(content: bytes, scratch: Path) -> list[str]:
    place = scratch / "one.pdf"
    place.write_bytes(content)
    with pikepdf.open(place) as pdf:
        found = [repr(o) for o in pdf.objects] + [str(pdf.docinfo), str(pdf.trailer)]
        for each in pdf.objects:
            if isinstance(each, pikepdf.Stream) and "/Length1" not in each.keys():  # noqa: SIM118 a PDF dictionary
                found.append(each.read_bytes().decode("latin-1"))
        for key, attached in pdf.attachments.items():
            found += [key, attached.filename, attached.description, *_texts(attached.get_file().read_bytes(), scratch)]
    printed = json.dumps(read(place), ensure_ascii=False)
    return [*found, printed, re.sub(r"\s", "", printed)]
