"""The seal beside a protocol: made, revised, and held against the protocol that is evaluated."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from validate.provenance import seal as sealing
from validate.provenance.seal import BrokenSeal, Revision, SealFile
from validate.tables.files import read_inside
from validate.vocabulary.place import Place
from validate.vocabulary.problem import InputRefused, Problem, ProblemCatalogue
from validate.vocabulary.seal import Order, Seal, SealedChange, SealRevision, TimeEvidence

if TYPE_CHECKING:
    from validate.criteria.resolving import Resolution
    from validate.pipeline.preparing import Prepared
    from validate.protocol.loading import LoadedProtocol
    from validate.tables.reading import TableReading

PROBLEMS = ProblemCatalogue(__file__)
MEASURED_AT = ("start", "first_reading", "last_reading", "end")
"""Columns of the run log that say when there was measuring."""
LONGEST_SHOWN = 300


@dataclass(frozen=True)
class Sealed:
    """What stands beside the protocol: the seal as judged, the files that were read, what is wrong."""

    seal: Seal | None = None
    files: Mapping[str, bytes] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()


def seal_name(protocol: Path) -> str:
    """`seal.yaml` beside `protocol.yaml`, `other.seal.yaml` beside `other.yaml`."""
    return "seal.yaml" if protocol.name == "protocol.yaml" else f"{protocol.stem}.seal.yaml"


def read_sealed(loaded: LoadedProtocol, resolution: Resolution, log: TableReading | None) -> Sealed:
    """The seal beside the protocol, if there is one; a broken one is a problem."""
    name = seal_name(loaded.path)
    if not os.path.lexists(loaded.folder / name):
        return Sealed()
    place = Place(f"{loaded.shown_folder}/{name}" if loaded.shown_folder else name)
    files: dict[str, bytes] = {}
    try:
        files[name] = read_inside(loaded.folder, name, largest_bytes=sealing.LARGEST_BYTES)
        written = sealing.read_seal(files[name])
        if written.protocol != loaded.protocol.id:
            raise BrokenSeal(f"it seals the protocol {written.protocol}, and this one is {loaded.protocol.id}")
        time = _time(loaded, written, files)
    except InputRefused as refused:
        return Sealed(None, files, tuple(replace(problem, place=place) for problem in refused.problems))
    except BrokenSeal as broken:
        return Sealed(None, files, (PROBLEMS.problem("seal-broken", place, file=name, why=broken),))
    seal = _judged(name, written, loaded, resolution, _first_measurement(log), time)
    return Sealed(seal, files, tuple(_notices(seal, place)))


@dataclass(frozen=True)
class SealFiles:
    """What `validate seal` writes beside the protocol, and what it says."""

    files: Mapping[str, bytes]
    told: tuple[str, ...]


def seal_files(
    prepared: Prepared, on: str | None, by: str | None, reason: str | None = None, token: Path | None = None
) -> SealFiles:
    """A first seal of a checked protocol; with `reason` a revision; with `token` a trusted time for it.

    Date and person are declared: absent, they are the protocol's `issued` and `people: approved`.
    Raises InputRefused: sealed already, nothing changed, nobody named, a token that does not hold.
    """
    protocol, name = prepared.protocol, seal_name(prepared.loaded.path)
    if token is not None:
        return _with_token(prepared, token)
    on, by = _declared(prepared, on, by)
    parts = sealing.sealed_parts(protocol, prepared.resolution.criteria)
    if reason is not None:
        written = _revised(prepared, parts, on, by, reason)
    elif os.path.lexists(prepared.loaded.folder / name):
        raise _refused("seal-is-there", name, file=name)
    else:
        written = SealFile(protocol.id, on, by, sealing.seal_hash(parts), parts)
    last = written.revisions[-1].hash if written.revisions else written.hash
    what = f"{len(parts)} parts sealed"
    if written.revisions:
        what = f"revision {len(written.revisions)} with {len(written.revisions[-1].changes)} changed parts"
    return SealFiles(
        {name: sealing.seal_text(written)},
        (
            f"{name}: {what}, declared {on} by {by}",
            f"code: {sealing.seal_code(last)}",
            f"hash: {last}",
            "Write the code into the notebook, mail or file it: the date in the file is only declared.",
        ),
    )


def _revised(prepared: Prepared, parts: Mapping[str, str], on: str, by: str, reason: str) -> SealFile:
    name, written = _present(prepared)
    changed = sealing.changes(written.current, parts)
    if not changed:
        raise _refused("seal-unchanged", name, file=name)
    last = written.revisions[-1].on if written.revisions else written.on
    if on < last:
        raise _refused("revision-before-seal", name, on=on, last=last)
    revision = Revision(on, by, reason, sealing.seal_hash(parts), changed)
    return replace(written, revisions=(*written.revisions, revision))


def _with_token(prepared: Prepared, token: Path) -> SealFiles:
    """The seal with a trusted time beside it, after the token was verified."""
    name, written = _present(prepared)
    try:
        content = token.read_bytes()
    except OSError as error:
        raise _refused("token-refused", token.as_posix(), why=error.strerror or error) from None
    time = _verified(content, written)
    kept = f"{name.removesuffix('.yaml')}.tsr"
    files = {name: sealing.seal_text(replace(written, token=kept)), kept: content}
    return SealFiles(files, (f"{kept}: {time.authority} stamped {time.stamped} at {time.time}",))


def _declared(prepared: Prepared, on: str | None, by: str | None) -> tuple[str, str]:
    protocol, name = prepared.protocol, seal_name(prepared.loaded.path)
    person = (by or "").strip() or protocol.people.approved
    if not person:
        raise _refused("seal-without-person", name)
    try:
        day = date.fromisoformat(on).isoformat() if on else str(protocol.issued)
    except ValueError:
        raise _refused("seal-date", name, value=on) from None
    return day, person


def _refused(code: str, where: str, **values: object) -> InputRefused:
    return InputRefused([PROBLEMS.problem(code, Place(where), **values)])


def _present(prepared: Prepared) -> tuple[str, SealFile]:
    loaded, name = prepared.loaded, seal_name(prepared.loaded.path)
    if not os.path.lexists(loaded.folder / name):
        raise _refused("seal-missing", name, file=name)
    content = read_inside(loaded.folder, name, largest_bytes=sealing.LARGEST_BYTES)
    try:
        return name, sealing.read_seal(content)
    except BrokenSeal as broken:
        raise _refused("seal-broken", name, file=name, why=broken) from None


def _time(loaded: LoadedProtocol, written: SealFile, files: dict[str, bytes]) -> TimeEvidence | None:
    from validate.provenance.timestamp import LARGEST_BYTES

    if not written.token:
        return None
    files[written.token] = read_inside(loaded.folder, written.token, largest_bytes=LARGEST_BYTES)
    return replace(_verified(files[written.token], written), file=written.token)


def _verified(token: bytes, written: SealFile) -> TimeEvidence:
    from validate.provenance.timestamp import LibraryMissing, TokenRefused, verify_token

    hashes = {state: sealing.seal_code(state) for state in (written.hash, *(r.hash for r in written.revisions))}
    try:
        stamp = verify_token(token, hashes)
    except LibraryMissing:
        raise _refused("token-library-missing", "seal") from None
    except TokenRefused as refused:
        raise _refused("token-refused", "seal", why=refused) from None
    return TimeEvidence(
        file="",
        time=stamp.time,
        authority=stamp.authority,
        certificate_sha256=stamp.certificate_sha256,
        stamped=hashes[stamp.hash],
    )


def _judged(
    name: str,
    written: SealFile,
    loaded: LoadedProtocol,
    resolution: Resolution,
    first: str,
    time: TimeEvidence | None,
) -> Seal:
    parts = sealing.sealed_parts(loaded.protocol, resolution.criteria)
    return Seal(
        file=name,
        code=sealing.seal_code(written.hash),
        hash=written.hash,
        on=written.on,
        by=written.by,
        parts=tuple(sorted({part.split(" / ")[0] for part in written.sealed})),
        order=_order(written.on, first),
        first_measurement=first,
        revisions=tuple(
            SealRevision(
                on=revision.on,
                by=revision.by,
                reason=revision.reason,
                code=sealing.seal_code(revision.hash),
                order=_order(revision.on, first),
                changes=tuple(map(_shortened, revision.changes)),
            )
            for revision in written.revisions
        ),
        unrevised=tuple(map(_shortened, sealing.changes(written.current, parts))),
        time=time,
    )


def _shortened(change: SealedChange) -> SealedChange:
    def short(text: str) -> str:
        return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 1] + "…"

    return SealedChange(part=change.part, before=short(change.before), after=short(change.after))


def _order(on: str, first: str) -> Order:
    if not first:
        return "no run log"
    return "before" if on < first else "after" if on > first else "same day"


def _first_measurement(log: TableReading | None) -> str:
    """The earliest date of the run log's readings and runs; empty without one."""
    if log is None or log.reported is None:
        return ""
    frame = log.reported.frame
    days = [str(text)[:10] for role in MEASURED_AT if role in frame for text in frame[role].tolist() if text]
    return min((day for day in days if len(day) == 10 and day[:4].isdigit()), default="")


def _notices(seal: Seal, place: Place) -> list[Problem]:
    if not seal.unrevised:
        return []
    parts = ", ".join(change.part for change in seal.unrevised[:5])
    return [PROBLEMS.problem("seal-changed", place, count=len(seal.unrevised), parts=parts)]
