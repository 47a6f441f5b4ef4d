"""Plain text tree → checked parts, with the errors of all parts at once.

Checks across parts (a level against the scope) shall also run when some other part has
an error: what has errors is cut out, and the rest is checked again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from pydantic import BaseModel, ValidationError, create_model

from validate.protocol.model import Protocol
from validate.protocol.reading import Node
from validate.protocol.settings import Model, StudySettings
from validate.protocol.wording import Path, nearest

_MOST_ROUNDS = 6
_MOST_ERRORS_TO_CUT = 200


@dataclass
class Fault:
    """One error of the model library: its key path, type and context."""

    path: Path
    type: str
    message: str
    context: Mapping[str, Any] = field(default_factory=dict)


@dataclass
class Checked:
    """The protocol (None with any fault), the faults, and the parts that are free of them."""

    protocol: Protocol | None
    faults: list[Fault]
    parts: Any


def check(tree: Node, settings_of_kind: Mapping[str, type[StudySettings]]) -> Checked:
    """Check the whole tree; `parts` has the attributes of a Protocol, None where a part is missing or faulty."""
    data = plain(tree)
    if not isinstance(data, dict):
        return Checked(None, [Fault((), "model_type", "")], None)
    valid, faults = _validate(Protocol, data, settings_of_kind)
    if not faults:
        return Checked(valid, [], valid)
    return Checked(None, faults, _salvage(data, faults, settings_of_kind))


def plain(node: Node) -> Any:
    """The tree as text, lists and dicts. Depth is limited by the reader."""
    if isinstance(node.value, dict):
        return {key: plain(child) for key, child in node.value.items()}
    if isinstance(node.value, list):
        return [plain(child) for child in node.value]
    return node.value


def _validate(
    model: type[BaseModel], data: dict[str, Any], settings_of_kind: Mapping[str, type[StudySettings]]
) -> tuple[Any, list[Fault]]:
    """Each study by the model of its kind, then the whole with the checked studies in it."""
    studies = data.get("studies")
    faults: list[Fault] = []
    if isinstance(studies, dict):
        checked = {}
        for name, settings in studies.items():
            checked[name], found = _validate_study(("studies", name), settings, settings_of_kind)
            faults += found
        data = {**data, "studies": checked}
    try:
        return model.model_validate(data), faults
    except ValidationError as error:
        return None, faults + _faults(error, ())


def _validate_study(
    path: Path, settings: Any, settings_of_kind: Mapping[str, type[StudySettings]]
) -> tuple[StudySettings, list[Fault]]:
    """The study's settings; with faults a stand-in, so that the rest of the protocol can be checked."""
    kind = settings.get("kind") if isinstance(settings, dict) else None
    model = settings_of_kind.get(kind) if isinstance(kind, str) else None
    faults = []
    if isinstance(kind, str) and kind and model is None:
        faults.append(Fault((*path, "kind"), "unknown-kind", "", {"known": tuple(settings_of_kind)}))
    try:
        return (model or StudySettings).model_validate(settings), faults
    except ValidationError as error:
        found = _faults(error, path)
        if model is None:
            found = [fault for fault in found if not _depends_on_kind(fault, path)]
        return StudySettings.model_construct(kind=kind or ""), faults + found


def _depends_on_kind(fault: Fault, study: Path) -> bool:
    """Whether a key of the study may be right for the kind that is missing or unknown."""
    of_study = fault.type == "extra_forbidden" and len(fault.path) == len(study) + 1
    return of_study and nearest(str(fault.path[-1]), ["kind"]) is None


def _faults(error: ValidationError, above: Path) -> list[Fault]:
    return [
        Fault((*above, *one["loc"]), one["type"], one["msg"], one.get("ctx", {}))
        for one in error.errors(include_url=False, include_input=False)
    ]


def _salvage(data: dict[str, Any], faults: list[Fault], settings_of_kind: Mapping[str, type[StudySettings]]) -> Any:
    """The parts without a fault, after cutting out what has one; None when that leads nowhere."""
    for _ in range(_MOST_ROUNDS):
        if len(faults) > _MOST_ERRORS_TO_CUT:
            return None
        paths = {_path_to_cut(fault, data) for fault in faults}
        # From the end, so that positions in lists stay right while entries before them are still there.
        for path in sorted(paths, key=lambda path: [(str(type(p)), p) for p in path], reverse=True):
            data = _cut(data, path)
        parts, faults = _validate(_partial_protocol(), data, settings_of_kind)
        if not faults:
            return parts
    return None


def _path_to_cut(fault: Fault, data: dict[str, Any]) -> Path:
    """An unknown key or a section alone; otherwise the whole group, which means something else without the part."""
    path, value = _reached(data, fault.path)
    if fault.type in ("extra_forbidden", "missing") or isinstance(value, dict):
        return path
    sections = 3 if path[:1] == ("studies",) else 1
    if len(path) == sections:
        return path[:-1] if path[-1] == "kind" else path
    return path[:-1]


def _reached(value: Any, path: Path) -> tuple[Path, Any]:
    """How far a path leads, and what stands there."""
    taken: list[str | int] = []
    for piece in path:
        in_dict = isinstance(value, dict) and piece in value
        in_list = isinstance(value, list) and isinstance(piece, int) and piece < len(value)
        if not (in_dict or in_list):
            break
        value = value[piece]
        taken.append(piece)
    return tuple(taken), value


def _cut(value: Any, path: Path) -> Any:
    """A copy of `value` without what lies at `path`; the whole stays where the path leads nowhere."""
    if not path:
        return value
    piece, rest = path[0], path[1:]
    if isinstance(value, dict) and piece in value:
        kept = {key: _cut(child, rest) if key == piece else child for key, child in value.items()}
        return kept if rest else {key: child for key, child in value.items() if key != piece}
    if isinstance(value, list) and isinstance(piece, int) and piece < len(value):
        kept = [_cut(child, rest) if i == piece else child for i, child in enumerate(value)]
        return kept if rest else [child for i, child in enumerate(value) if i != piece]
    return value


@lru_cache(maxsize=1)
def _partial_protocol() -> type[BaseModel]:
    """A Protocol in which no key is required."""
    fields: Any = {}
    for name, info in Protocol.model_fields.items():
        annotation = info.rebuild_annotation()
        fields[name] = (annotation | None, None)
    return create_model("PartialProtocol", __base__=Model, **fields)
