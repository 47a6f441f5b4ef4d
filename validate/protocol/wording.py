"""Words for messages: where a value stands, what it is, which known name was meant."""

from __future__ import annotations

import difflib
from collections.abc import Container, Iterable, Sequence
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel

from validate.protocol.reading import Node

Path = tuple[str | int, ...]
_LONGEST_WORD = 60


def where(path: Path) -> str:
    """`"at_most" under "rsd_r" of study "recovery-in-coffee"`: the last two names are enough."""
    said, rest = "", path
    if len(path) >= 2 and path[0] == "studies":
        said, rest = f'study "{path[1]}"', path[2:]
    for piece in rest[-2:]:
        name = f"entry {piece + 1}" if isinstance(piece, int) else f'"{piece}"'
        joint = "of" if said.startswith("study") or isinstance(piece, int) else "under"
        said = f"{name} {joint} {said}" if said else name
    return said or "the protocol"


def shown(node: Node) -> str:
    """The value as seen in the file, or what it is made of."""
    if isinstance(node.value, str):
        return f'"{node.value}"'
    if isinstance(node.value, list):
        return f"a list of {len(node.value)}"
    return "a group of keys" if node.value else "an empty group of keys"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known name that was probably meant, or None."""
    if len(word) > _LONGEST_WORD:
        return None
    by_lower = {name.lower(): name for name in known}
    spelled = word.lower().replace("-", "_")
    found = difflib.get_close_matches(word.lower(), by_lower, n=1, cutoff=0.6)
    found = found or difflib.get_close_matches(spelled, by_lower, n=1, cutoff=0.6)
    return by_lower[found[0]] if found else None


def suggestion(word: str, known: Sequence[str]) -> str:
    """How to mend an unknown name: the nearest one, or all that can stand here."""
    meant = nearest(word, known)
    if meant is not None:
        return f'did you mean "{meant}"?'
    if not known:
        return "remove it"
    return f"what can stand here: {', '.join(known)}"


def key_suggestion(word: str, model: type[BaseModel], path: Path, present: Container[str]) -> str:
    """How to mend an unknown key: the nearest one here, else one in a group below, else what can stand here."""
    known = allowed_keys(model, path)
    free = [key for key in known if key not in present]
    if nearest(word, free) is None:
        for group in known:
            meant = nearest(word, allowed_keys(model, (*path, group)))
            if meant is not None:
                return f'did you mean "{meant}" under "{group}"?'
    return suggestion(word, free)


def allowed_keys(model: type[BaseModel], path: Path) -> tuple[str, ...]:
    """The keys that may stand in the group at `path` below `model`, as written in the file."""
    candidates: list[Any] = [model]
    for piece in path:
        candidates = [below for candidate in candidates for below in _below(candidate, piece)]
    keys = [key for candidate in candidates if _is_model(candidate) for key in _fields(candidate)]
    return tuple(dict.fromkeys(keys))


def _below(annotation: Any, piece: str | int) -> list[Any]:
    if _is_model(annotation):
        inner = _fields(annotation).get(str(piece))
        return [] if inner is None else _alternatives(inner)
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is dict:
        return _alternatives(arguments[1])
    if origin in (list, tuple) and arguments:
        return _alternatives(arguments[0])
    return []


def _alternatives(annotation: Any) -> list[Any]:
    """An annotation without its decoration; the members of a union."""
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _alternatives(arguments[0])
    if arguments and origin not in (dict, list, tuple):
        return [one for argument in arguments for one in _alternatives(argument)]
    return [annotation]


def _fields(model: type[BaseModel]) -> dict[str, Any]:
    """Key as written in the file → annotation."""
    return {field.alias or name: field.annotation for name, field in model.model_fields.items()}


def _is_model(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)
