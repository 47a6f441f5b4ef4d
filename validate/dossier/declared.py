"""What the protocol says of itself, in words: identification, method, materials, signatures, metadata.

The order of keys in a mapping carries no meaning in evaluation.json, so none is taken from it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from validate.dossier import numbers
from validate.dossier.context import Material, Pair, Signature
from validate.vocabulary.evaluation import Evaluation

MATERIALS = "materials."
MATERIAL_FACTS = ("kind", "certificate", "value", "U", "k", "expires", "preparation", "storage", "note")
ACTS = ("planned", "measured", "checked", "approved")
PURPOSES = {
    "verification": "Verification: a method used as it was written, held against what is claimed for it.",
    "validation": "Validation: what the method can do in this laboratory's hands, shown for the first time.",
    "extension": "Extension: a validated method taken to another matrix, range, instrument, analyst or site.",
    "lot": "Acceptance of a new lot.",
    "revalidation": "Revalidation after a change.",
    "round": "Round: the same samples measured by many laboratories.",
}
INTENDED_USES = {
    "quantitative": "Quantitative: the number itself is reported.",
    "screening": "Screening against a limit: the number decides whether a sample is suspect.",
}
ORIGIN_MARKS = {"invented": "Data invented for demonstration", "published": "Published data, evaluated anew"}


def identification_line(protocol: Mapping[str, Any]) -> str:
    parts = [str(protocol.get("id", "")), f"edition {protocol.get('edition', '')}", str(protocol.get("laboratory", ""))]
    return " · ".join(part for part in parts if part)


def identification(protocol: Mapping[str, Any]) -> tuple[Pair, ...]:
    lines = [
        ("Laboratory", protocol.get("laboratory")),
        ("Protocol", protocol.get("id")),
        ("Edition", protocol.get("edition")),
        ("Issued", protocol.get("issued")),
        ("Supersedes", _supersedes(protocol.get("supersedes"))),
        ("Purpose", PURPOSES.get(protocol.get("purpose", ""), protocol.get("purpose"))),
        ("Intended use", INTENDED_USES.get(protocol.get("intended_use", ""), protocol.get("intended_use"))),
    ]
    return pairs(lines)


def _supersedes(named: Any) -> str | None:
    return named.get("title") if isinstance(named, Mapping) else named


def method(method: Mapping[str, Any]) -> tuple[Pair, ...]:
    unit = str(method.get("unit", ""))
    scope, limit, reading = method.get("scope") or {}, method.get("limit") or {}, method.get("reading") or {}
    lines = [
        ("Measurand", method.get("measurand")),
        ("Matrix", method.get("matrix")),
        ("Basis", method.get("basis")),
        ("Principle", method.get("principle")),
        ("Scope", _range(scope.get("from"), scope.get("to"), unit)),
        ("Limit", _limit(limit, unit)),
        ("Reading", _reading(reading, unit)),
        (
            "Defined by the method",
            "yes: the result is what this method reads" if method.get("defined_by_method") else None,
        ),
    ]
    return pairs(lines)


def pairs(lines: Sequence[tuple[str, Any]]) -> tuple[Pair, ...]:
    return tuple(Pair(label, _text(value)) for label, value in lines if value not in (None, "", [], {}))


def _text(value: Any) -> str:
    """Plain data of the protocol as words: numbers with our signs, lists and mappings in one line."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return numbers.calculator(value)
    if isinstance(value, Mapping):
        if set(value) >= {"value", "unit", "text"}:
            return str(value["text"])
        return "; ".join(f"{key}: {_text(item)}" for key, item in sorted(value.items()))
    if isinstance(value, (list, tuple)):
        return ", ".join(_text(item) for item in value)
    return str(value)


def _range(low: Any, high: Any, unit: str) -> str | None:
    if low is None and high is None:
        return None
    if low is None or high is None:
        return (
            f"up to {numbers.with_unit(_text(high), unit)}"
            if low is None
            else f"from {numbers.with_unit(_text(low), unit)}"
        )
    return f"{_text(low)} to {numbers.with_unit(_text(high), unit)}"


def _limit(limit: Mapping[str, Any], unit: str) -> str | None:
    if limit.get("value") is None:
        return None
    source = "the laboratory's own" if limit.get("source") == "own" else _text(limit.get("source") or "")
    origin = ", ".join(text for text in (source, _text(limit.get("reason") or "")) if text)
    value = numbers.with_unit(_text(limit["value"]), unit)
    return f"{value} ({origin})" if origin else value


def _reading(reading: Mapping[str, Any], unit: str) -> str | None:
    parts = [
        f"{name} {numbers.with_unit(_text(reading[name]), unit)}"
        for name in ("resolution", "floor")
        if reading.get(name) is not None
    ]
    return ", ".join(parts) or None


def materials(materials: Mapping[str, Any], evaluation: Evaluation) -> tuple[Material, ...]:
    kept = {item.key.removeprefix(MATERIALS) for item in evaluation.recorded_only if item.key.startswith(MATERIALS)}
    return tuple(
        Material(
            name=name,
            facts=_material_facts(facts),
            kept="Recorded, not evaluated by this version." if name in kept else "",
        )
        for name, facts in sorted(materials.items())
    )


def _material_facts(facts: Mapping[str, Any]) -> tuple[Pair, ...]:
    order = [*MATERIAL_FACTS, *sorted(set(facts) - set(MATERIAL_FACTS))]
    return pairs([(name, facts.get(name)) for name in order])


def signatures(people: Mapping[str, Any]) -> tuple[Signature, ...]:
    return tuple(Signature(act, _text(people[act]) if people.get(act) else "") for act in ACTS)


def metadata(protocol: Mapping[str, Any], software: str) -> tuple[Pair, ...]:
    issued = protocol.get("issued")
    return pairs(
        [
            ("author", protocol.get("laboratory")),
            ("description", "Method dossier"),
            ("generator", software),
            ("dcterms.created", issued),
            ("dcterms.modified", issued),
        ]
    )
