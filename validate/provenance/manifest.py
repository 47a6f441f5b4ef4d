"""What a dossier was made from (manifest.json) and what was made (outputs.json).

The manifest travels with the dossier and is the same everywhere for the same inputs.
The outputs file stays beside it: it names the software, libraries and fonts of the
machine that rendered, on which the bytes of HTML and PDF depend.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from validate.provenance.canonical import canonical_json, sha256
from validate.provenance.carrying import MANIFEST
from validate.provenance.environment import environment
from validate.vocabulary.evaluation import Evaluation

FORMAT = 1


def manifest_bytes(evaluation: Evaluation, others: Mapping[str, bytes]) -> bytes:
    """manifest.json: hashes of every input and of the `others` that travel: evaluation, criteria, text, note."""
    return canonical_json(
        {
            "format": FORMAT,
            "protocol": described(evaluation)["protocol"],
            "inputs": [
                {"name": item.name, "role": item.role, "bytes": item.size_bytes, "sha256": item.sha256}
                for item in evaluation.inputs
            ],
            "catalogue": described(evaluation)["catalogue"],
            "seeds": {},
            "carried": _hashes(others),
        }
    )


def outputs_bytes(files: Mapping[str, bytes]) -> bytes:
    """outputs.json: hashes of the written files and the environment that wrote them."""
    return canonical_json({"format": FORMAT, "files": _hashes(files), "environment": environment()})


def _hashes(files: Mapping[str, bytes]) -> list[dict[str, Any]]:
    return [{"name": name, "bytes": len(content), "sha256": sha256(content)} for name, content in sorted(files.items())]


def read_manifest(content: bytes) -> dict[str, Any]:
    """The manifest in `content`; ValueError with the reason when it is none of format 1."""
    try:
        manifest = json.loads(content)
    except (ValueError, RecursionError):
        raise ValueError(f"{MANIFEST} is damaged") from None
    if not isinstance(manifest, dict) or "format" not in manifest:
        raise ValueError(f"{MANIFEST} is not a dossier's")
    if manifest["format"] != FORMAT:
        raise ValueError(f"{MANIFEST} has format {manifest['format']!a}; this version reads format {FORMAT}")
    entries = [*_list(manifest, "inputs"), *_list(manifest, "carried")]
    if not all(isinstance(e, dict) and all(isinstance(e.get(k), str) for k in ("name", "sha256")) for e in entries):
        raise ValueError(f"{MANIFEST} is damaged")
    if not any(entry.get("role") == "protocol" for entry in _list(manifest, "inputs")):
        raise ValueError(f"{MANIFEST} names no protocol")
    return manifest


def _list(manifest: Mapping[str, Any], key: str) -> list[Any]:
    value = manifest.get(key)
    if not isinstance(value, list):
        raise ValueError(f"{MANIFEST} is damaged")
    return value


def described(evaluation: Evaluation) -> dict[str, Any]:
    """What a manifest says of the evaluation beside hashes: identification, roles of inputs, sets in use."""
    return {
        "protocol": {key: evaluation.protocol[key] for key in ("id", "edition", "title")},
        "catalogue": [{"id": item.id, "edition": item.edition} for item in evaluation.catalogue],
        "roles": {item.name: item.role for item in evaluation.inputs},
    }


def misdescribed(manifest: Mapping[str, Any], evaluation: Evaluation) -> list[str]:
    """Where a manifest describes another evaluation than the one computed again, in sentences."""
    said = {
        "protocol": manifest.get("protocol"),
        "catalogue": manifest.get("catalogue"),
        "roles": {entry["name"]: entry.get("role") for entry in manifest["inputs"]},
    }
    expected = described(evaluation)
    return [
        f"{MANIFEST}, {key}: {said[key]!r}, computed again {expected[key]!r}"
        for key in said
        if said[key] != expected[key]
    ]


def disagreements(manifest: Mapping[str, Any], files: Mapping[str, bytes], absent: Iterable[str] = ()) -> list[str]:
    """Files that are missing, additional or have another hash than the manifest says, in sentences.

    `absent` names files that travel elsewhere and are not looked for.
    """
    listed = {entry["name"]: entry["sha256"] for entry in (*manifest["inputs"], *manifest["carried"])}
    missing = [name for name in listed if name not in files and name not in absent]
    told = [f"{name}: named by the manifest and not there" for name in missing]
    told += [f"{name}: not named by the manifest" for name in files if name not in listed and name != MANIFEST]
    told += [
        f"{name}: its content is not what the manifest was made for "
        f"(SHA-256 {sha256(files[name])}, manifest {expected})"
        for name, expected in listed.items()
        if name in files and sha256(files[name]) != expected
    ]
    sizes = {entry["name"]: entry.get("bytes") for entry in (*manifest["inputs"], *manifest["carried"])}
    told += [
        f"{name}: {len(files[name])} bytes, and {size} in the manifest"
        for name, size in sizes.items()
        if name in files and len(files[name]) != size
    ]
    if canonical_json(manifest) != files[MANIFEST]:
        told.append(f"{MANIFEST}: not in the form in which this software writes it")
    return told
