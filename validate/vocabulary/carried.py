"""A file that travels inside a dossier."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Relationship = Literal["Source", "Data", "Supplement", "Alternative"]
"""What the file is to the dossier, in the words of ISO 32000-2, 7.11.3 (from memory)."""


@dataclass(frozen=True)
class Carried:
    """Name, content and what a reader is told of a carried file."""

    name: str
    content: bytes
    description: str
    relationship: Relationship
    media_type: str
