"""Faults of the model library → problems of the catalogue, with places and words for a reader."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from pydantic import BaseModel

from validate.protocol.model import Protocol
from validate.protocol.places import follow, place_of
from validate.protocol.reading import Node
from validate.protocol.settings import StudySettings
from validate.protocol.validating import Fault
from validate.protocol.wording import Path, key_suggestion, nearest, shown, suggestion, where
from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)

_KEY = "[key]"
_CODES = {
    "extra_forbidden": "unknown-key",
    "missing": "missing-key",
    "literal_error": "not-one-of",
    "enum": "not-one-of",
    "model_type": "not-a-group",
    "model_attributes_type": "not-a-group",
    "dict_type": "not-a-group",
    "tuple_type": "not-a-list",
    "list_type": "not-a-list",
    "string_type": "not-a-text",
    "string_too_short": "too-short",
    "string_too_long": "too-long",
    "too_short": "too-few-entries",
    "too_long": "too-many-entries",
    "value_error": "wrong-value",
}


@dataclass
class _Located:
    """A fault with the path that exists in the file, the node there, and what is left of the path."""

    fault: Fault
    path: Path
    node: Node
    missing: str | None
    in_union: bool

    @property
    def is_key(self) -> bool:
        """Whether the key itself, not what stands under it, is at fault."""
        return self.fault.path[-1:] == (_KEY,)


def translate(
    faults: Iterable[Fault], tree: Node, file: str, settings_of_kind: Mapping[str, type[StudySettings]], *, most: int
) -> tuple[list[Problem], int]:
    """The first `most` problems in the order of the file, one for each thing wrong, and the number of faults left."""
    located = [one for one in (_locate(fault, tree) for fault in faults) if one is not None]
    located.sort(key=lambda one: (one.node.line, one.node.column))
    first = located[:most]
    unknown = {(*one.path, one.fault.path[-1]) for one in first if one.fault.type == "extra_forbidden"}
    problems: list[Problem] = []
    unions: dict[Path, list[_Located]] = {}
    for one in first:
        if one.in_union:
            unions.setdefault(one.path, []).append(one)
        elif not _is_misspelled(one, unknown):
            problems.append(_problem(one, tree, file, settings_of_kind))
    problems += [_union_problem(members, file) for members in unions.values()]
    return problems, len(located) - len(first)


def _locate(fault: Fault, tree: Node) -> _Located | None:
    """None when the value, or one that holds it, was told of already."""
    node, path = tree, []
    missing, in_union = None, False
    for position, piece in enumerate(fault.path):
        if node.told:
            return None
        last = position == len(fault.path) - 1
        below = follow(node, piece)
        if below is not None:
            if not (last and fault.type == "extra_forbidden"):
                node = below
                path.append(piece)
        elif last and (fault.type == "missing" or piece == _KEY):
            missing = str(piece) if fault.type == "missing" else None
        else:
            in_union = True
    return None if node.told else _Located(fault, tuple(path), node, missing, in_union)


def _is_misspelled(one: _Located, unknown: set[Path]) -> bool:
    """Whether the missing key stands beside an unknown one that was meant to be it."""
    if one.missing is None:
        return False
    beside = [str(path[-1]) for path in unknown if path[:-1] == one.path]
    return any(nearest(word, [one.missing]) for word in beside)


def _problem(one: _Located, tree: Node, file: str, settings_of_kind: Mapping[str, type[StudySettings]]) -> Problem:
    code = _code(one)
    words = {"where": where(one.path), "value": shown(one.node), **one.fault.context}
    if one.fault.type == "extra_forbidden":
        key = str(one.fault.path[-1])
        model, below = _model_at(one.path, tree, settings_of_kind)
        words |= {"key": key, "suggestion": key_suggestion(key, model, below, one.node.value)}
    elif one.fault.type == "missing":
        words |= {"key": one.missing}
    elif code == "not-one-of":
        choices = _choices(one.fault)
        words |= {"choices": ", ".join(choices), "suggestion": suggestion(str(one.node.value), choices)}
    elif code == "unknown-kind":
        words |= {"suggestion": suggestion(str(one.node.value), one.fault.context["known"])}
    if one.is_key:
        words |= {"value": f'"{one.path[-1]}"'}
    return PROBLEMS.problem(code, _place(one, file), **{"said": _said(one.fault), **words})


def _code(one: _Located) -> str:
    """Refusals of ours carry their code; those of the model library are named here."""
    if one.fault.type in PROBLEMS.entries:
        return one.fault.type
    code = _CODES.get(one.fault.type, "wrong-value")
    in_group = code == "wrong-value" and isinstance(one.node.value, dict)
    return "wrong-combination" if in_group else code


def _place(one: _Located, file: str) -> Place:
    if one.fault.type == "extra_forbidden":
        return place_of(follow(one.node, one.fault.path[-1]) or one.node, file, key=True)
    return place_of(one.node, file, key=one.is_key)


def _union_problem(members: list[_Located], file: str) -> Problem:
    """One message for a value that fits none of the forms it can take."""
    one = members[0]
    said = "; or ".join(dict.fromkeys(_said(member.fault) for member in members))
    return PROBLEMS.problem(
        "fits-no-form", place_of(one.node, file), where=where(one.path), value=shown(one.node), said=said
    )


def _model_at(
    path: Path, tree: Node, settings_of_kind: Mapping[str, type[StudySettings]]
) -> tuple[type[BaseModel], Path]:
    """The model that rules the group at `path`, and the path below that model."""
    if len(path) < 2 or path[0] != "studies":
        return Protocol, path
    kind = tree
    for piece in ("studies", path[1], "kind"):
        kind = follow(kind, piece) or kind
    return settings_of_kind.get(str(kind.value), StudySettings), path[2:]


def _choices(fault: Fault) -> list[str]:
    return re.findall(r"'((?:[^'\\]|\\.)*)'", str(fault.context.get("expected", "")))


def _said(fault: Fault) -> str:
    said = fault.message.removeprefix("Value error, ").removeprefix("Assertion failed, ")
    return said[:1].lower() + said[1:]
