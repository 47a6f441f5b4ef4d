"""YAML text → a tree in which every scalar is still text and every value has its place.

Only the part of YAML that a protocol needs is read: mappings, lists and scalars of one
document. Anchors, tags and repeated keys are refused. The tree is built from parser
events without recursion and within fixed limits, so that a hostile file ends in a message.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import yaml

from validate.protocol.explaining import explain_syntax
from validate.vocabulary.place import Place
from validate.vocabulary.problem import Problem, ProblemCatalogue

PROBLEMS = ProblemCatalogue(__file__)
LARGEST_BYTES = 1_000_000
DEEPEST = 40
MOST_VALUES = 50_000
_MOST_CHARACTERS_TOLD = 20

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_REFUSED_CHARACTER = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff]"
)


@dataclass(slots=True, eq=False)
class Node:
    """A value of the file: text, a list of nodes, or a mapping of key to node."""

    value: str | list[Node] | dict[str, Node]
    line: int
    column: int
    key_line: int | None = None
    key_column: int | None = None
    told: bool = False
    """A problem of this value was told already; what follows from it is not told again."""


@dataclass
class Reading:
    """The tree (None when there is none that can be trusted) and the problems of its form."""

    tree: Node | None = None
    problems: list[Problem] = field(default_factory=list)


class _Stop(Exception):
    """The rest of the file is not read."""


def read_tree(content: bytes, file: str) -> Reading:
    """The tree of a protocol file; `file` is its name in messages."""
    text, problems = decode(content, file)
    if problems:
        return Reading(None, problems)
    builder = _Builder(file)
    try:
        for event in _events(text):
            builder.take(event)
    except _Stop:
        return Reading(None, builder.problems)
    except yaml.YAMLError as error:
        return Reading(None, [*builder.problems, explain_syntax(error, text, file)])
    if builder.root is None or builder.root.value == "":
        problem = PROBLEMS.problem("empty-protocol", Place(file))
        return Reading(None, [problem])
    return Reading(builder.root, builder.problems)


def decode(content: bytes, file: str) -> tuple[str, list[Problem]]:
    """UTF-8 text without its byte order mark, or the problems that forbid reading it."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "", [PROBLEMS.problem("not-utf-8", Place(file), what="UTF-16 text")]
    body = content.removeprefix(b"\xef\xbb\xbf")
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as error:
        before = body[: error.start].decode("utf-8")
        place = place_at(file, before, len(before))
        byte = body[error.start : error.start + 1]
        what = f'the byte {byte.hex().upper()} ("{byte.decode("cp1252", "replace")}" in cp1252)'
        return "", [PROBLEMS.problem("not-utf-8", place, what=what)]
    problems = []
    for match in _REFUSED_CHARACTER.finditer(text):
        place = place_at(file, text, match.start())
        problems.append(PROBLEMS.problem("control-character", place, character=f"U+{ord(match[0]):04X}"))
        if len(problems) == _MOST_CHARACTERS_TOLD:
            break
    return text, problems


def place_at(file: str, text: str, index: int) -> Place:
    """Line and column, counted from 1, of the character at `index`."""
    before = text[:index].replace("\r\n", "\n").replace("\r", "\n")
    return Place(file, before.count("\n") + 1, len(before) - before.rfind("\n"))


def _events(text: str) -> Iterator[Any]:
    return yaml.parse(text, Loader=_LOADER)


def _meant(key: str) -> str:
    """Keys that a reader takes for the same: `5` and `5.0`, with and without a space at the end."""
    key = key.strip()
    return str(float(key)) if len(key) < 20 and re.fullmatch(r"[0-9]+\.?[0-9]*|\.[0-9]+", key) else key


@dataclass(slots=True)
class _Open:
    """A mapping or list that is being filled; `key` is set while its value is awaited."""

    node: Node
    meant: dict[str, Node] = field(default_factory=dict)
    key: str | None = None
    key_line: int | None = None
    key_column: int | None = None


class _Builder:
    """Takes parser events one by one and grows the tree."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.root: Node | None = None
        self.problems: list[Problem] = []
        self._open: list[_Open] = []
        self._values = 0
        self._documents = 0

    def take(self, event: Any) -> None:
        if isinstance(event, yaml.ScalarEvent):
            self._scalar(event)
        elif isinstance(event, (yaml.MappingStartEvent, yaml.SequenceStartEvent)):
            self._start(event)
        elif isinstance(event, (yaml.MappingEndEvent, yaml.SequenceEndEvent)):
            self._open.pop()
        elif isinstance(event, yaml.AliasEvent):
            self._tell("anchor", event, text=f"*{event.anchor}")
            self._add(event, f"*{event.anchor}", told=True)
        elif isinstance(event, yaml.DocumentStartEvent):
            self._documents += 1
            if self._documents > 1:
                self._tell("several-documents", event)
                raise _Stop

    def _scalar(self, event: Any) -> None:
        self._refuse_properties(event)
        if self._awaits_key():
            self._key(event)
            return
        empty = event.value == "" and not event.style and bool(self._open)
        node = self._add(event, event.value, told=empty)
        if empty:
            place = Place(self.file, node.key_line or node.line, node.key_column or node.column)
            key = self._open[-1].key
            what = f'"{key}" has no value' if key is not None else "an entry of a list is empty"
            self.problems.append(PROBLEMS.problem("empty-value", place, what=what))

    def _start(self, event: Any) -> None:
        self._refuse_properties(event)
        if self._awaits_key():
            self._tell("key-not-text", event)
            raise _Stop
        if len(self._open) >= DEEPEST:
            self._tell("too-deep", event)
            raise _Stop
        value: Any = {} if isinstance(event, yaml.MappingStartEvent) else []
        self._open.append(_Open(self._add(event, value)))

    def _awaits_key(self) -> bool:
        if not self._open:
            return False
        top = self._open[-1]
        return isinstance(top.node.value, dict) and top.key_line is None

    def _key(self, event: Any) -> None:
        top, mark = self._open[-1], event.start_mark
        top.key, top.key_line, top.key_column = event.value, mark.line + 1, mark.column + 1

    def _add(self, event: Any, value: Any, *, told: bool = False) -> Node:
        """Hang a new value below the mapping or list that is open."""
        self._values += 1
        if self._values > MOST_VALUES:
            self._tell("too-many-values", event, most=MOST_VALUES)
            raise _Stop
        mark = event.start_mark
        node = Node(value, mark.line + 1, mark.column + 1, told=told)
        if not self._open:
            self.root = node
        elif isinstance(self._open[-1].node.value, list):
            self._open[-1].node.value.append(node)
        elif self._awaits_key():
            self._tell("key-not-text", event)
            raise _Stop
        else:
            self._set(self._open[-1], node)
        return node

    def _set(self, top: _Open, node: Node) -> None:
        node.key_line, node.key_column = top.key_line, top.key_column
        first = top.meant.setdefault(_meant(top.key), node)
        if first is node:
            top.node.value[top.key] = node
        else:
            place = Place(self.file, node.key_line, node.key_column)
            where = Place(self.file, first.key_line, first.key_column)
            self.problems.append(PROBLEMS.problem("repeated-key", place, key=top.key, first=where))
        top.key_line = None

    def _refuse_properties(self, event: Any) -> None:
        if event.anchor is not None:
            self._tell("anchor", event, text=f"&{event.anchor}")
        if event.tag is not None:
            self._tell("tag", event, text=event.tag)

    def _tell(self, code: str, event: Any, **values: object) -> None:
        place = Place(self.file, event.start_mark.line + 1, event.start_mark.column + 1)
        self.problems.append(PROBLEMS.problem(code, place, **values))
