"""Text from files, made safe to look at: nothing invisible, nothing that turns the direction of reading."""

from __future__ import annotations

import unicodedata
from typing import Any

from markupsafe import Markup

KEPT = frozenset("\n\t")
HIDDEN = frozenset({"Cc", "Cf", "Cs"})


def visible(text: str) -> str:
    """`text` with control, direction and surrogate characters shown as escapes; line breaks stay."""
    if text.isprintable():
        return text
    return "".join(_shown(c) if c not in KEPT and unicodedata.category(c) in HIDDEN else c for c in text)


def finalize(value: Any) -> Any:
    """For every expression of a template: plain text is made visible, markup of our own is left alone."""
    return visible(value) if isinstance(value, str) and not isinstance(value, Markup) else value


def _shown(character: str) -> str:
    return character.encode("unicode_escape", errors="backslashreplace").decode("ascii")
