"""The canonical form of JSON (RFC 8785) in which evaluations and manifests are written and hashed."""

from __future__ import annotations

import hashlib
from typing import Any


def canonical_json(data: Any) -> bytes:
    """`data` as RFC 8785 JSON: sorted keys, shortest round-trip numbers, UTF-8, no spaces.

    Raises ValueError for a number that JSON cannot hold (NaN, infinity, an integer
    beyond 2^53).
    """
    import rfc8785

    try:
        return rfc8785.dumps(data)
    except rfc8785.CanonicalizationError as error:
        raise ValueError(f"not representable as canonical JSON: {error}") from error


def sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
