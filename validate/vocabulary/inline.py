"""How the words show themselves in a notebook, without knowing who draws them.

The vocabulary imports no other room; the package hands it a renderer when it is imported.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

_renderers: list[Callable[[Any], str]] = []


def show_with(renderer: Callable[[Any], str]) -> None:
    """Use `renderer` (object → HTML) for everything that shows itself inline."""
    _renderers[:] = [renderer]


class ShownInline:
    """A word that a notebook shows as HTML."""

    def _repr_html_(self) -> str | None:
        return _renderers[0](self) if _renderers else None
