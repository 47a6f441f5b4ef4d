"""The seal of a protocol: a hash of design and criteria with a declared date, before there are data.

The file is readable text. It holds every sealed part, so that a later change can be told
from what to what, and a code made of the hash that can be written into a notebook by hand.
No clock is asked: the date is what a person declares.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from validate.provenance.canonical import canonical_json, sha256
from validate.provenance.design import AFTER_THE_BENCH
from validate.vocabulary.evaluation import Criterion
from validate.vocabulary.seal import SealedChange

if TYPE_CHECKING:
    from pydantic import BaseModel

FORMAT = "1"
LETTERS = "BCDFGHJKLMNPQRSTVWXZ"
"""Twenty consonants: no digit to be misread, no vowel to make words."""
CODE_LETTERS, GROUP = 20, 5
LARGEST_BYTES = 2_000_000
_NOT_SEALED = AFTER_THE_BENCH | {"format", "edition", "title", "issued", "laboratory", "supersedes"}
_HASH = re.compile(r"[0-9a-f]{64}")
_HEAD = """\
# Seal of design and criteria. Keep it beside the protocol; do not edit it.
# The code is made of the hash of everything under `sealed`, whatever the order and comments of the
# protocol. Write it into the notebook, mail or file it before the first measurement: the date below
# is only declared. {count} letters out of {kinds} give {codes:.0e} codes; two designs of a million have the same
# one with a chance of {collision:.0e}, and somebody who wants two designs with one code has to try about {tries:.0e}.
"""


class BrokenSeal(ValueError):
    """The seal file is none, or does not agree with itself; the message says where."""


@dataclass(frozen=True)
class Revision:
    """A declared change of sealed parts."""

    on: str
    by: str
    reason: str
    hash: str
    changes: tuple[SealedChange, ...]


@dataclass(frozen=True)
class SealFile:
    """What a seal file holds."""

    protocol: str
    on: str
    by: str
    hash: str
    sealed: Mapping[str, str]
    revisions: tuple[Revision, ...] = ()
    token: str = ""
    """Name of the file with a trusted time, beside the seal."""

    @property
    def current(self) -> dict[str, str]:
        """The sealed parts after every revision."""
        parts = dict(self.sealed)
        for revision in self.revisions:
            parts = _applied(parts, revision.changes)
        return parts


def sealed_parts(protocol: BaseModel, criteria: Iterable[Criterion]) -> dict[str, str]:
    """Design and criteria as `path: value`; both are text.

    Left out is what comes after the bench (data, amendments, people …) and what only
    describes (title, edition, laboratory). The criteria stand with the numbers to which
    the published sets resolve them, so that a changed limit shows as well.
    """
    written = protocol.model_dump(mode="json", by_alias=True, exclude_unset=True)
    design: dict[str, Any] = {key: value for key, value in written.items() if key not in _NOT_SEALED}
    design["studies"] = {
        name: {key: value for key, value in study.items() if key not in ("data", "title")}
        for name, study in written["studies"].items()
    }
    design["criteria"] = _criteria(criteria)
    return dict(sorted(_flat(design, "")))


def _criteria(criteria: Iterable[Criterion]) -> dict[str, str]:
    """One line for each criterion or claim; two sets may bound one finding."""
    lines: dict[str, str] = {}
    for item in criteria:
        name = item.id
        while name in lines:
            name += " (again)"
        low, high = (None if end is None else canonical_json(end).decode() for end in (item.low, item.high))
        bound = f"at most {high}" if low is None else f"at least {low}" if high is None else f"{low} to {high}"
        source = ", ".join(filter(None, (item.source, item.clause)))
        lines[name] = f"{bound} {item.unit}, judged by the {item.judge_by.value}; {source}"
    return lines


def seal_hash(parts: Mapping[str, str]) -> str:
    """SHA-256, 64 hexadecimal digits, of the canonical JSON of the sealed parts."""
    return sha256(canonical_json(dict(parts)))


def seal_code(hash_: str) -> str:
    """The first 86 bits of a hash as four groups of five letters.

    >>> seal_code("0" * 64), seal_code("f" * 64)
    ('BBBBB-BBBBB-BBBBB-BBBBB', 'ZZZZZ-ZZZZZ-ZZZZZ-ZZZZZ')
    """
    number = int(hash_, 16) * len(LETTERS) ** CODE_LETTERS >> 256
    letters = []
    for _ in range(CODE_LETTERS):
        number, rest = divmod(number, len(LETTERS))
        letters.append(LETTERS[rest])
    text = "".join(reversed(letters))
    return "-".join(text[i : i + GROUP] for i in range(0, CODE_LETTERS, GROUP))


def changes(before: Mapping[str, str], after: Mapping[str, str]) -> tuple[SealedChange, ...]:
    """What differs between two states of the sealed parts."""
    return tuple(
        SealedChange(part=part, before=before.get(part, ""), after=after.get(part, ""))
        for part in sorted(before.keys() | after.keys())
        if before.get(part) != after.get(part)
    )


def seal_text(seal: SealFile) -> bytes:
    """The seal as the text of its file."""
    import yaml

    codes = float(len(LETTERS) ** CODE_LETTERS)
    head = _HEAD.format(count=CODE_LETTERS, kinds=len(LETTERS), codes=codes, collision=5e11 / codes, tries=codes**0.5)
    content: dict[str, Any] = {
        "format": int(FORMAT),
        "protocol": seal.protocol,
        "code": seal_code(seal.hash),
        "hash": seal.hash,
        "declared": {"date": seal.on, "by": seal.by},
        **({"token": seal.token} if seal.token else {}),
        "parts": sorted({part.split(" / ")[0] for part in seal.sealed}),
        "sealed": dict(seal.sealed),
        "revisions": [
            {
                "date": revision.on,
                "by": revision.by,
                "reason": revision.reason,
                "code": seal_code(revision.hash),
                "hash": revision.hash,
                "changes": [{"part": c.part, "before": c.before, "after": c.after} for c in revision.changes],
            }
            for revision in seal.revisions
        ],
    }
    text = yaml.dump(content, Dumper=yaml.SafeDumper, sort_keys=False, allow_unicode=True, width=4096)
    return (head + text).encode("utf-8")


def read_seal(content: bytes) -> SealFile:
    """The seal in `content`. Raises BrokenSeal when it is none or when hash, code and parts do not agree."""
    data = _plain(content)
    seal = _seal_of(data)
    if data.get("code") != seal_code(seal.hash) or seal_hash(seal.sealed) != seal.hash:
        raise BrokenSeal("code, hash and sealed parts do not agree: the file was edited")
    parts = dict(seal.sealed)
    codes = [item.get("code") for item in data.get("revisions") or []]
    for number, (revision, code) in enumerate(zip(seal.revisions, codes, strict=True), start=1):
        if any(parts.get(change.part, "") != change.before for change in revision.changes):
            raise BrokenSeal(f"revision {number} changes a part from a value that it did not have")
        parts = _applied(parts, revision.changes)
        if seal_hash(parts) != revision.hash or code != seal_code(revision.hash):
            raise BrokenSeal(f"revision {number}: code, hash and changes do not agree: the file was edited")
    return seal


def _plain(content: bytes) -> dict[str, Any]:
    import yaml

    if len(content) > LARGEST_BYTES:
        raise BrokenSeal("it is larger than any seal")
    try:
        if b"&" in content and any(isinstance(e, yaml.AliasEvent) for e in yaml.parse(content, yaml.SafeLoader)):
            raise BrokenSeal("it holds references, which no seal has")
        data = yaml.load(content, Loader=yaml.BaseLoader)
    except (yaml.YAMLError, UnicodeDecodeError, RecursionError):
        raise BrokenSeal("it is no readable seal") from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise BrokenSeal(f"it is no seal of format {FORMAT}")
    return data


def _seal_of(data: Mapping[str, Any]) -> SealFile:
    try:
        declared, sealed = data["declared"], data["sealed"]
        revisions = tuple(
            Revision(
                _date(item["date"]),
                _text(item["by"]),
                _text(item["reason"]),
                _hash(item["hash"]),
                tuple(SealedChange(part=c["part"], before=c["before"], after=c["after"]) for c in item["changes"]),
            )
            for item in data.get("revisions") or []
        )
        texts = {_text(part): str(value) for part, value in sealed.items() if isinstance(value, str)}
        if len(texts) != len(sealed):
            raise BrokenSeal("a sealed part is no text")
        on, by = _date(declared["date"]), _text(declared["by"])
        return SealFile(_text(data["protocol"]), on, by, _hash(data["hash"]), texts, revisions, data.get("token", ""))
    except (KeyError, TypeError, AttributeError, ValueError) as error:
        raise error if isinstance(error, BrokenSeal) else BrokenSeal("a part of it is missing or no text") from None


def _date(text: Any) -> str:
    try:
        return date.fromisoformat(text).isoformat()
    except (TypeError, ValueError):
        raise BrokenSeal(f"{text!r} is no date such as 2031-03-03") from None


def _hash(text: Any) -> str:
    if not isinstance(text, str) or not _HASH.fullmatch(text):
        raise BrokenSeal("a hash is not one of 64 hexadecimal digits")
    return text


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise BrokenSeal("a name or reason is empty")
    return value


def _applied(parts: Mapping[str, str], made: Iterable[SealedChange]) -> dict[str, str]:
    after = dict(parts)
    for change in made:
        after[change.part] = change.after
    return {part: value for part, value in after.items() if value}


def _flat(value: Any, path: str) -> Iterable[tuple[str, str]]:
    if isinstance(value, Mapping) and value:
        for key, part in value.items():
            yield from _flat(part, f"{path} / {_key(key)}" if path else _key(key))
    elif value not in (None, {}, []) and path:
        yield path, value if isinstance(value, str) else canonical_json(value).decode("utf-8")


def _key(key: str) -> str:
    return str(key).replace(" / ", " // ")
