"""A dossier that supersedes an earlier one: what changed in inputs, findings and verdicts."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from validate.provenance.canonical import sha256
from validate.provenance.carrying import EVALUATION
from validate.provenance.comparing import numbers_agree
from validate.vocabulary.evaluation import Requirement, StudyEvaluation
from validate.vocabulary.reissue import ReissuedFigure, ReissuedFile

_FOLLOWED = ("table", "attachment")
"""Roles of inputs that must stay as they were; protocol and seal are what a new edition changes."""


@dataclass(frozen=True)
class FileChange:
    """How an input stands to the superseded dossier: `same`, `grown`, `changed`, `new` or `gone`."""

    name: str
    kind: str


_WORDS = {
    "grown": "rows were added after those of the superseded dossier, which are unchanged",
    "new": "not an input of the superseded dossier",
    "gone": "an input of the superseded dossier, and none now",
    "changed": "other content than in the superseded dossier",
}


def file_changes(manifest: Mapping[str, Any], inputs: Mapping[str, tuple[str, bytes]]) -> list[FileChange]:
    """The inputs (name → role, content) against the superseded manifest.

    A text table that begins with the earlier file, byte for byte, has grown; any other
    difference is a change. A workbook cannot grow: its bytes do not stay.
    """
    earlier = {entry["name"]: entry for entry in manifest["inputs"] if entry.get("role") in _FOLLOWED}
    found = []
    for name, (role, content) in inputs.items():
        if role not in _FOLLOWED:
            continue
        known = earlier.get(name)
        if known is None:
            found.append(FileChange(name, "new"))
        elif sha256(content) == known["sha256"]:
            found.append(FileChange(name, "same"))
        else:
            size = known.get("bytes")
            begins_so = isinstance(size, int) and 0 < size < len(content) and sha256(content[:size]) == known["sha256"]
            found.append(FileChange(name, "grown" if begins_so else "changed"))
    return found + [FileChange(name, "gone") for name in earlier if name not in inputs]


def told_files(changes: Iterable[FileChange]) -> tuple[ReissuedFile, ...]:
    return tuple(ReissuedFile(name=item.name, change=_WORDS[item.kind]) for item in changes if item.kind != "same")


def evaluation_of_manifest(manifest: Mapping[str, Any]) -> str | None:
    """The hash of evaluation.json that a manifest names."""
    return next((entry["sha256"] for entry in manifest["carried"] if entry["name"] == EVALUATION), None)


def read_earlier(content: bytes) -> dict[str, Any]:
    """A superseded evaluation as plain data; ValueError when it is none of format 1."""
    try:
        earlier = json.loads(content)
        if earlier["format"] != 1:
            raise ValueError("it is of another format")
        _findings(earlier)
        _verdicts(earlier)
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        why = str(error) if "format" in str(error) else "it is not built as one"
        raise ValueError(f"it is no evaluation.json of this software: {why}") from None
    return earlier


def changed_figures(
    earlier: Mapping[str, Any], studies: Iterable[StudyEvaluation], requirements: Iterable[Requirement]
) -> tuple[int, tuple[ReissuedFigure, ...]]:
    """How many findings both dossiers have, and those whose value or verdict differs (1e-9 relative)."""
    before, verdicts_before = _findings(earlier), _verdicts(earlier)
    after = {
        (study.name, finding.name, finding.level): (finding.value, finding.unit)
        for study in studies
        for finding in study.as_reported.findings
    }
    verdicts_after: dict[tuple[Any, ...], str] = {}
    for item in requirements:
        key = (item.criterion.study, item.criterion.finding, item.criterion.level)
        verdicts_after.setdefault(key, item.as_reported.verdict.value)
    figures = []
    for key in dict.fromkeys((*after, *before)):
        (old, old_unit), (new, new_unit) = before.get(key, (None, "")), after.get(key, (None, ""))
        verdicts = verdicts_before.get(key, ""), verdicts_after.get(key, "")
        same = key in before and key in after and numbers_agree(old, new) and old_unit == new_unit
        if same and verdicts[0] == verdicts[1]:
            continue
        study, finding, level = key
        figures.append(
            ReissuedFigure(
                study=study,
                finding=finding,
                level=level,
                unit=new_unit or old_unit,
                before=old,
                after=new,
                verdict_before=verdicts[0],
                verdict_after=verdicts[1],
            )
        )
    return len(before.keys() & after.keys()), tuple(figures)


def _findings(evaluation: Mapping[str, Any]) -> dict[tuple[Any, ...], tuple[float | None, str]]:
    return {
        (study["name"], finding["name"], finding["level"]): (finding["value"], finding["unit"])
        for study in evaluation["studies"]
        for finding in study["as_reported"]["findings"]
    }


def _verdicts(evaluation: Mapping[str, Any]) -> dict[tuple[Any, ...], str]:
    verdicts: dict[tuple[Any, ...], str] = {}
    for line in evaluation["requirements"]:
        criterion = line["criterion"]
        key = (criterion["study"], criterion["finding"], criterion["level"])
        verdicts.setdefault(key, line["as_reported"]["verdict"])
    return verdicts
