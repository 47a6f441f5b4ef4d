"""From a path of keys to the place in the file."""

from __future__ import annotations

from collections.abc import Iterable

from validate.protocol.reading import Node
from validate.vocabulary.place import Place


def follow(node: Node, piece: str | int) -> Node | None:
    """The value under one key or at one position, or None. A single value is a list of one."""
    if isinstance(node.value, dict) and str(piece) in node.value:
        return node.value[str(piece)]
    if isinstance(node.value, list):
        return node.value[piece] if isinstance(piece, int) and 0 <= piece < len(node.value) else None
    return node if piece == 0 else None


def place_of(node: Node, file: str, *, key: bool = False) -> Place:
    """Where a text stands; for a group or list, and with `key`, where its key stands."""
    if node.key_line is not None and (key or not isinstance(node.value, str)):
        return Place(file, node.key_line, node.key_column)
    return Place(file, node.line, node.column)


def nearest_place(tree: Node | None, file: str, keys: Iterable[str | int]) -> Place:
    """The place of the value at the path, or of the nearest group above it that exists."""
    if tree is None:
        return Place(file)
    node = tree
    for piece in keys:
        below = follow(node, piece.removesuffix("_") if piece == "from_" else piece)
        if below is None:
            break
        node = below
    return place_of(node, file)
