"""The catalogue's own files, for dossiers that carry what they were judged by."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from typing import Any

from validate.criteria.reading import FOLDER

KINDS = {"criteria": "sets", "design": "designs"}
"""First part of a carried file's name, and the folder of the catalogue that it comes from."""


def shipped_files(sets: Iterable[str], designs: Iterable[str]) -> dict[str, bytes]:
    """`criteria-<set>.toml` and `design-<guide>.toml`, word for word; unknown names are passed over."""
    wanted = [*(("criteria", name) for name in sets), *(("design", name) for name in designs)]
    files = {}
    for kind, name in wanted:
        path = FOLDER / KINDS[kind] / f"{name}.toml"
        if path.is_file():
            files[f"{kind}-{name}.toml"] = path.read_bytes()
    return files


def differences(name: str, carried: bytes) -> list[str]:
    """What a carried file of the catalogue says otherwise than the shipped one, in sentences.

    Only what the carried file holds is compared: a later version may add entries. Empty
    when both say the same, however they are spelled.
    """
    kind, _, identity = name.removesuffix(".toml").partition("-")
    shipped = shipped_files([identity] if kind == "criteria" else [], [identity] if kind == "design" else [])
    if name not in shipped:
        return [f"{name}: this version ships no such file"]
    if shipped[name] == carried:
        return []
    try:
        ours, theirs = tomllib.loads(shipped[name].decode()), tomllib.loads(carried.decode())
    except ValueError:
        return [f"{name}: cannot be read"]
    return [f"{name}: {text}" for text in _differences(theirs, ours, "")]


def _differences(carried: dict[str, Any], shipped: dict[str, Any], at: str) -> list[str]:
    told = []
    for key, value in carried.items():
        ours = shipped.get(key)
        if isinstance(value, list) and isinstance(ours, list) and all(isinstance(item, dict) for item in value):
            told += [_entry_words(at + key, item, ours) for item in value if item not in ours]
        elif isinstance(value, dict) and isinstance(ours, dict):
            told += _differences(value, ours, f"{at}{key}.")
        elif value != ours:
            told.append(f"{at}{key} is {value!r} in the dossier and {ours!r} in this version")
    return told


def _entry_words(key: str, entry: dict[str, Any], shipped: list[dict[str, Any]]) -> str:
    same = next((ours for ours in shipped if ours.get("finding") == entry.get("finding")), None)
    if same is None:
        return f"{key} on {entry.get('finding')!r} does not stand in this version"
    changed = [
        f"{name} is {entry.get(name)!r} in the dossier and {same.get(name)!r} in this version"
        for name in sorted(entry.keys() | same.keys())
        if entry.get(name) != same.get(name)
    ]
    return f"{key} on {entry.get('finding')!r}: {'; '.join(changed)}"
