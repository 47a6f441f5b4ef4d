"""Change a dossier's PDF as somebody would who wants it to say something else."""

import json
import re
from collections.abc import Callable
from pathlib import Path

import pikepdf

from validate.provenance.canonical import canonical_json, sha256

Change = Callable[[bytes], bytes]


def attached(path: Path) -> dict[str, bytes]:
    with pikepdf.open(path) as pdf:
        return {name: spec.get_file().read_bytes() for name, spec in pdf.attachments.items()}


def change_attachment(path: Path, name: str, change: Change, *, mend_manifest: bool = False) -> None:
    """Replace one attachment; with `mend_manifest` the manifest gets its new hash."""
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        content = change(pdf.attachments[name].get_file().read_bytes())
        replace(pdf, name, content)
        if mend_manifest:
            manifest = json.loads(pdf.attachments["manifest.json"].get_file().read_bytes())
            for entry in (*manifest["inputs"], *manifest["carried"]):
                if entry["name"] == name:
                    entry.update(sha256=sha256(content), bytes=len(content))
            replace(pdf, "manifest.json", canonical_json(manifest))
        pdf.save(path)


def replace(pdf: pikepdf.Pdf, name: str, content: bytes) -> None:
    spec = pikepdf.AttachedFileSpec(pdf, content, filename=name)
    pdf.attachments[name] = spec


def add_attachment(path: Path, name: str, content: bytes) -> None:
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        replace(pdf, name, content)
        pdf.save(path)


def remove_attachment(path: Path, name: str) -> None:
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        del pdf.attachments[name]
        pdf.save(path)


def change_printed(path: Path, old: str, new: str, occurrence: int = 0) -> None:
    """Set other letters on the pages: `old` and `new` have the same length and letters that the page's fonts hold."""
    left = occurrence
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        for page in pdf.pages:
            codes = [_codes(font) for font in page.Resources.Font.values()]
            content = page.Contents.read_bytes()
            for code in codes:
                if not all(letter in code for letter in old + new):
                    continue
                # Kerning may stand between the letters: `<0013>-3<0014>`.
                gap = rb"(>[-0-9. ]*<)?"
                pattern = gap.join(b"%04x" % code[letter] for letter in old)
                for found in re.finditer(pattern, content):
                    if left:
                        left -= 1
                        continue
                    gaps = [piece or b"" for piece in found.groups()] + [b""]
                    letters = b"".join(b"%04x" % code[c] + g for c, g in zip(new, gaps, strict=True))
                    page.Contents.write(content[: found.start()] + letters + content[found.end() :])
                    pdf.save(path)
                    return
    raise AssertionError(f"{old!r} is not printed")


def _codes(font: pikepdf.Object) -> dict[str, int]:
    mapping = font.ToUnicode.read_bytes().decode("latin1")
    pairs = re.findall(r"^<([0-9a-f]{4})> <([0-9a-f]{4})>$", mapping, re.MULTILINE)
    return {chr(int(letter, 16)): int(code, 16) for code, letter in pairs}
