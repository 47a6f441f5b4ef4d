"""The hash of a design: what a protocol fixes before there are data."""

from __future__ import annotations

from typing import TYPE_CHECKING

from validate.provenance.canonical import canonical_json, sha256

if TYPE_CHECKING:
    from pydantic import BaseModel

AFTER_THE_BENCH = frozenset({"amendments", "exclusions", "runs", "people", "origin"})
"""Keys that are filled in while and after measuring; a study's `data` is one, too."""


def design_hash(protocol: BaseModel) -> str:
    """SHA-256, 64 hexadecimal digits, of a checked protocol without what comes after the bench.

    Left out: `data` of every study, amendments, exclusions, the run log, the names of people
    and the origin of the data. What counts is the meaning: comments, the order of keys and
    `5.0` for the level `5` change nothing. Only keys that are written count, so that a key
    that a later version adds does not change the hash of an older protocol.
    """
    written = protocol.model_dump(mode="json", by_alias=True, exclude_unset=True)
    design = {key: value for key, value in written.items() if key not in AFTER_THE_BENCH}
    design["studies"] = {
        name: {key: value for key, value in study.items() if key != "data"}
        for name, study in written["studies"].items()
    }
    return sha256(canonical_json(design))
