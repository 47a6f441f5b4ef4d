"""Numbers with the word for what they count."""

from __future__ import annotations

MANY = {"laboratory": "laboratories"}


def counted(number: int, what: str) -> str:
    """`1 laboratory`, `3 laboratories`, `2 results`."""
    return f"{number} {what}" if number == 1 else f"{number} {MANY.get(what, what + 's')}"
