"""What a dossier carries, so that it can be recomputed from itself alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from validate.vocabulary.carried import Carried, Relationship
from validate.vocabulary.evaluation import Evaluation

EVALUATION = "evaluation.json"
MANIFEST = "manifest.json"
TEXT = "dossier.txt"
NOTE = "recompute.txt"
RESERVED = frozenset({EVALUATION, MANIFEST, TEXT, NOTE, "dossier.html", "dossier.pdf", "outputs.json"})
"""Names of a dossier's own files; an input of the same name could not travel beside them."""
_MEDIA_TYPES = {
    "csv": "text/csv",
    "json": "application/json",
    "toml": "text/plain",
    "tsr": "application/timestamp-reply",
    "tsv": "text/tab-separated-values",
    "txt": "text/plain",
    "xlsm": "application/vnd.ms-excel.sheet.macroEnabled.12",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "yaml": "application/yaml",
    "yml": "application/yaml",
}
_ROLES: dict[str, tuple[str, Relationship]] = {
    "protocol": ("Protocol as it was read", "Source"),
    "table": ("Table as it was read", "Source"),
    "attachment": ("File named by the protocol, as it was read", "Source"),
    "seal": ("Seal of design and criteria, or its trusted time", "Source"),
    "superseded": ("From the superseded dossier", "Source"),
}
_NOTE = """\
How to recompute this dossier

Protocol:  {id}, edition {edition}
Made with: {software}

This dossier carries everything that its figures were computed from:

{files}

With the software: install {software} (or a later version) and run

    validate recompute dossier.pdf

It takes the files out of the PDF into a scratch folder, evaluates them again and compares every
finding, interval and verdict, the files with the manifest and the printed words with the evaluation.

By hand: save the attached files into one folder under their names, compare their SHA-256 with
manifest.json, and run `validate dossier FOLDER --out NEW`; or take any finding from part 6 of the
dossier, where the formula stands with the values put in, and follow it with a calculator.

Without the software: the protocol, the criteria and this note are plain text, the tables are as the
laboratory wrote them (CSV or XLSX), evaluation.json is JSON (RFC 8785) and dossier.txt holds the
words of the pages.
"""


def carried_inputs(evaluation: Evaluation, inputs: Mapping[str, bytes]) -> tuple[Carried, ...]:
    """The input files, in the order in which they were read."""
    return tuple(
        Carried(item.name, inputs[item.name], *_ROLES.get(item.role, _ROLES["attachment"]), media_type(item.name))
        for item in evaluation.inputs
    )


def carried_criteria(files: Mapping[str, bytes]) -> tuple[Carried, ...]:
    """The published sets and minimum designs that were used (name → bytes as shipped)."""
    return tuple(
        Carried(name, content, "Published limits as they were used", "Supplement", media_type(name))
        for name, content in sorted(files.items())
    )


def carried_results(evaluation_json: bytes, manifest: bytes, text: bytes, note: bytes) -> tuple[Carried, ...]:
    """What was made of the inputs: evaluation, manifest, the words of the pages, the note."""
    return (
        Carried(EVALUATION, evaluation_json, "Every finding, interval and verdict", "Data", "application/json"),
        Carried(MANIFEST, manifest, "Hashes of all that the dossier was made from", "Supplement", "application/json"),
        Carried(TEXT, text, "The words of the pages as plain text", "Alternative", "text/plain"),
        Carried(NOTE, note, "How to recompute this dossier", "Supplement", "text/plain"),
    )


def note(evaluation: Evaluation, names: Iterable[str]) -> bytes:
    """The plain-text note on how to recompute; `names` are the other carried files."""
    return _NOTE.format(
        id=evaluation.protocol["id"],
        edition=evaluation.protocol["edition"],
        software=evaluation.software,
        files="\n".join(f"    {name}" for name in names),
    ).encode("utf-8")


def is_reserved(name: str) -> bool:
    """Whether an input of this name could not travel: a dossier's own files have it, or may have it."""
    folded = name.casefold()
    return folded in RESERVED or (folded.startswith(("criteria-", "design-")) and folded.endswith(".toml"))


def media_type(name: str) -> str:
    """The media type of a carried file by its ending, the same on every machine."""
    return _MEDIA_TYPES.get(name.rpartition(".")[2].casefold(), "application/octet-stream")
