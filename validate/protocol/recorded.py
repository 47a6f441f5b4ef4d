"""Keys that this version keeps and shows but does not evaluate."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel

from validate.protocol.model import Material, Protocol
from validate.vocabulary.evaluation import Recorded
from validate.vocabulary.quantity import Quantity


def recorded_only(protocol: Protocol) -> tuple[Recorded, ...]:
    """Sections whose form was checked and which no study or judge of this version uses, in words.

    A material that a study names (as its reference) is used there and not listed.
    """
    recorded = []
    used = set(_texts([study.model_dump() for study in protocol.studies.values()]))
    for name, material in protocol.materials.items():
        if name in used:
            continue
        recorded.append(Recorded(key=f"materials.{name}", title=f"Material: {name}", text=_material(material)))
    if protocol.readiness is not None and protocol.runs is None:
        text = _words(protocol.readiness)
        recorded.append(Recorded(key="readiness", title="When a run may be used", text=text))
    return tuple(recorded)


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from _texts(part)
    elif isinstance(value, (list, tuple)):
        for part in value:
            yield from _texts(part)


def _material(material: Material) -> str:
    parts = [material.kind]
    if material.value:
        uncertainty = f", U = {material.U.text} (k = {material.k:g})" if material.U else ""
        parts.append(f"{material.value.text}{uncertainty}")
    for key in ("certificate", "expires", "preparation", "storage", "note"):
        value = getattr(material, key)
        if value is not None:
            parts.append(value if key == "note" else f"{key}: {value}")
    return "; ".join(parts)


def _words(value: Any) -> str:
    """A section as `key value; key value`, names without underscores."""
    if isinstance(value, BaseModel):
        value = {name: getattr(value, name) for name in type(value).model_fields}
    if isinstance(value, dict):
        present = {key: part for key, part in value.items() if part not in (None, {}, ())}
        return "; ".join(f"{key.replace('_', ' ')} {_words(part)}" for key, part in present.items())
    if isinstance(value, tuple):
        return " and ".join(_words(part) for part in value)
    if isinstance(value, Quantity):
        return value.text
    return f"{value:g}" if isinstance(value, float) else str(value)
