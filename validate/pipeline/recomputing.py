"""Evaluate a dossier again from what it carries, and tell what agrees and what does not."""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from validate.pipeline.evaluating import evaluate
from validate.pipeline.preparing import Prepared, Progress, prepare, quiet
from validate.pipeline.rendering import criteria_used
from validate.provenance.canonical import sha256
from validate.provenance.carrying import EVALUATION, MANIFEST, RESERVED, TEXT
from validate.provenance.comparing import FULL_DIGITS, Agreement, compare
from validate.provenance.environment import DISTRIBUTION, package_version
from validate.provenance.evaluation_file import evaluation_bytes
from validate.provenance.manifest import disagreements, misdescribed, read_manifest
from validate.provenance.opening import NotADossier, Opened, open_dossier
from validate.provenance.page_text import essence, first_difference, page_text
from validate.vocabulary.evaluation import Evaluation
from validate.vocabulary.problem import InputRefused

MOST_TOLD = 40
_PAGE_NUMBER = re.compile(r"\d+")


@dataclass(frozen=True)
class Recomputed:
    """What was found: sentences on what agrees, and on what does not (empty when all agrees)."""

    agrees: tuple[str, ...]
    differs: tuple[str, ...]
    notes: tuple[str, ...] = ()
    """What a reader should know and what is no disagreement."""


def recompute(path: Path, progress: Progress = quiet) -> Recomputed:
    """Evaluate again what the dossier at `path` (a PDF or a folder) carries, and compare.

    The carried files are trusted in nothing: they are read in a scratch folder, and the
    criteria are those of this installation. Raises NotADossier for anything that is not a
    dossier of this software or is damaged.
    """
    progress("opening the dossier")
    opened = open_dossier(path)
    manifest, carried = _parsed(opened)
    differs = [*opened.found, *disagreements(manifest, opened.files, absent=() if TEXT in opened.files else (TEXT,))]
    differs += _changed_outputs(opened)
    agrees = [] if differs else [f"files: {len(opened.files)} carried, all as the manifest says"]
    with tempfile.TemporaryDirectory(prefix="dossier-") as scratch:
        protocol = _unpack(opened.files, manifest, Path(scratch))
        try:
            progress("evaluating again")
            prepared = prepare(protocol)
            evaluation = evaluate(prepared)
        except InputRefused as refused:
            problems = str(refused).replace(f"{scratch}/", "")
            return Recomputed((), (*differs, f"the carried files can no longer be evaluated:\n{problems}"))
        progress("comparing")
        again = evaluation_bytes(evaluation)
        agreement = _compared(carried, json.loads(again))
        same_version = _same_software(carried, evaluation)
        differs += misdescribed(manifest, evaluation)
        differs += _figures(agreement)
        differs += agreement.worded if same_version else []
        differs += list(_criteria(opened.files, prepared))
        differs += list(_words(opened, manifest, prepared, evaluation, same_version))
    agrees += _what_agrees(agreement, carried, again == opened.files[EVALUATION])
    if not differs:
        agrees.append(_read_words(opened))
    return Recomputed(tuple(agrees), _shortened(differs), _notes(carried, agreement, same_version))


def _same_software(carried: Mapping[str, Any], evaluation: Evaluation) -> bool:
    """Whether version and installed files are those that made the dossier: only then must every word agree."""
    checked, own = carried.get("self_check"), evaluation.self_check
    files = checked.get("installed_files") if isinstance(checked, dict) else None
    return carried.get("software") == evaluation.software and own is not None and files == own.installed_files


def _parsed(opened: Opened) -> tuple[dict[str, Any], dict[str, Any]]:
    """Manifest and evaluation as plain data; NotADossier when either is none."""
    try:
        manifest = read_manifest(opened.files[MANIFEST])
        if EVALUATION not in opened.files:
            raise NotADossier(f"{EVALUATION} is not there")
        carried = json.loads(opened.files[EVALUATION])
    except (ValueError, RecursionError) as error:
        raise NotADossier(str(error) if MANIFEST in str(error) else f"{EVALUATION} is damaged") from None
    if not isinstance(carried, dict) or carried.get("format") != 1:
        raise NotADossier(f"{EVALUATION} is not one of format 1")
    return manifest, carried


def _unpack(files: Mapping[str, bytes], manifest: Mapping[str, Any], scratch: Path) -> Path:
    """Write the carried inputs into the scratch folder; returns the path of the protocol."""
    criteria = {name for name in files if name.startswith(("criteria-", "design-")) and name.endswith(".toml")}
    inputs = {entry["name"] for entry in manifest["inputs"]}
    for name, content in files.items():
        if name in RESERVED or (name in criteria and name not in inputs):
            continue
        place = scratch / name
        try:
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(content)
        except (FileExistsError, NotADirectoryError, IsADirectoryError):
            raise NotADossier(f"two carried files stand in each other's way: {name!a}") from None
    protocol = next(entry["name"] for entry in manifest["inputs"] if entry.get("role") == "protocol")
    if protocol not in files:
        raise NotADossier(f"the protocol {protocol!a} is not carried")
    return scratch / protocol


def _compared(carried: dict[str, Any], again: dict[str, Any]) -> Agreement:
    try:
        return compare(carried, again)
    except (KeyError, TypeError, AttributeError):
        raise NotADossier(f"{EVALUATION} is damaged: it is not built as an evaluation") from None


def _figures(agreement: Agreement) -> list[str]:
    return [f"{EVALUATION}: {text}" for text in agreement.different]


def _criteria(files: Mapping[str, bytes], prepared: Prepared) -> Iterator[str]:
    """Carried limits against the shipped ones, and whether they are those that the protocol uses."""
    from validate.criteria.shipped import differences

    used = criteria_used(prepared)
    for name in used:
        if name in files:
            yield from differences(name, files[name])
        else:
            yield f"{name}: the protocol uses it, and it is not carried"


def _changed_outputs(opened: Opened) -> list[str]:
    """Files of a folder that are not those which outputs.json was written for."""
    if "outputs.json" not in opened.beside:
        return []
    try:
        listed = {item["name"]: item["sha256"] for item in json.loads(opened.beside["outputs.json"])["files"]}
    except (ValueError, KeyError, TypeError, RecursionError):
        return ["outputs.json is damaged"]
    return [
        f"{name}: not the file that outputs.json names (SHA-256 {sha256(content)}, named {listed[name]})"
        for name, content in opened.beside.items()
        if name in listed and listed[name] != sha256(content)
    ]


def _words(
    opened: Opened, manifest: Mapping[str, Any], prepared: Prepared, evaluation: Evaluation, same_version: bool
) -> Iterator[str]:
    """The printed words against the carried text, and that text against the evaluation."""
    from validate.dossier.printed import missing_statements, page_without_pictures
    from validate.studies.discovery import section_template

    expected = next((entry["sha256"] for entry in manifest["carried"] if entry["name"] == TEXT), None)
    if expected != sha256(opened.text.encode("utf-8")) and TEXT not in opened.files:
        yield f"the words of the page are not those that the manifest was made for (SHA-256 {expected})"
    if opened.pages is not None:
        difference = first_difference(opened.text, opened.pages.lines)
        if difference is not None:
            yield f"the pages of the PDF print {difference[1]!r} where the dossier's text says {difference[0]!r}"
        yield from opened.pages.strange
        yield from _odd_heads(opened.pages.heads)
    templates = {kind.kind: section_template(kind.kind) for kind in prepared.studies.values()}
    if same_version:
        page = page_without_pictures(evaluation, prepared.inputs, templates)
        difference = first_difference(page_text(page), [opened.text.split("\n")])
        if difference is not None:
            yield f"the words of the dossier say {difference[1]!r} where the evaluation gives {difference[0]!r}"
    else:
        yield from missing_statements(evaluation, [essence(line) for line in opened.text.split("\n")], essence)


def _odd_heads(heads: tuple[str, ...]) -> Iterator[str]:
    """Pages whose running head and foot are not those of the first page, page numbers aside."""
    plain = [_PAGE_NUMBER.sub("", essence(head)) for head in heads]
    for number, head in enumerate(plain, start=1):
        if head != plain[0]:
            yield f"page {number} of the PDF prints words that do not belong to its text: {heads[number - 1][:80]!r}"


def _what_agrees(agreement: Agreement, carried: Mapping[str, Any], same_bytes: bool) -> list[str]:
    findings = sum(
        len(study[side]["findings"]) for study in carried["studies"] for side in ("as_reported", "as_recorded")
    )
    digits = "all digits" if agreement.digits == FULL_DIGITS else f"at least {agreement.digits:.0f} digits"
    told = [
        f"findings: {agreement.findings} of {findings} (as reported and as recorded), to {digits}",
        f"intervals: {agreement.intervals}",
        f"verdicts: {agreement.verdicts} of {len(carried['requirements'])}",
    ]
    return [*told, f"{EVALUATION}: the same bytes"] if same_bytes else told


def _read_words(opened: Opened) -> str:
    where = f"{len(opened.pages.lines)} pages of the PDF and the evaluation" if opened.pages else "the evaluation"
    return f"words: those of the dossier agree with {where}"


def _notes(carried: Mapping[str, Any], agreement: Agreement, same_version: bool) -> tuple[str, ...]:
    if same_version:
        return ()
    own = f"{DISTRIBUTION} {package_version(DISTRIBUTION)}"
    told = f"made with {carried.get('software')}, recomputed with {own}"
    if carried.get("software") == own:
        told += " whose installed files are not the same"
    if agreement.worded:
        told += f"; beside the figures {len(agreement.worded)} entries are worded or arranged otherwise"
    return (told,)


def _shortened(differs: list[str]) -> tuple[str, ...]:
    unique = list(dict.fromkeys(differs))
    if len(unique) <= MOST_TOLD:
        return tuple(unique)
    return (*unique[:MOST_TOLD], f"… and {len(unique) - MOST_TOLD} more")
