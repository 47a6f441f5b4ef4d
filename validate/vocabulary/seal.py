"""What is said of a seal: when design and criteria were declared, and what changed after."""

from __future__ import annotations

from typing import Literal

from pydantic.dataclasses import dataclass

from validate.vocabulary import FROZEN

Order = Literal["before", "same day", "after", "no run log"]
"""Where the declared date stands to the first measurement of the run log."""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class SealedChange:
    """A sealed part that is otherwise now; empty where it was not or is no more."""

    part: str
    before: str
    after: str


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class SealRevision:
    """A change of sealed parts that was declared with a reason."""

    on: str
    by: str
    reason: str
    code: str
    order: Order
    changes: tuple[SealedChange, ...]


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class TimeEvidence:
    """A trusted time on the hash of the seal or of a revision, as its token says and was verified."""

    file: str
    time: str
    authority: str
    certificate_sha256: str
    stamped: str
    """Code of the state that was stamped."""


@dataclass(frozen=True, kw_only=True, config=FROZEN)
class Seal:
    """The seal beside a protocol, held against the protocol as it was evaluated."""

    file: str
    code: str
    hash: str
    on: str
    by: str
    parts: tuple[str, ...]
    order: Order
    first_measurement: str
    """Date of the first measurement of the run log; empty without one."""
    revisions: tuple[SealRevision, ...]
    unrevised: tuple[SealedChange, ...]
    """Changes since the last revision for which no reason is recorded."""
    time: TimeEvidence | None = None
