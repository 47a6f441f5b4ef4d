"""The inputs of an archive without what its studies keep back: a protocol, tables and files to be evaluated again.

Nothing is copied that is not asked for: the protocol is written anew (its comments leave), a table keeps the
columns that a study reads, a correction or exclusion keeps its date and, where a study says so, its reason.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from validate.pipeline.preparing import Prepared, columns_of, treatments_of
from validate.provenance.seal import SealFile, read_seal, seal_text
from validate.vocabulary.leaflet import Extract

if TYPE_CHECKING:
    from validate.protocol.reading import Node
    from validate.protocol.settings import DataSource, Treatment
    from validate.tables.reading import TableReading

KEPT_BACK = "kept by the organiser"
UNREAD = "not readable"
READABLE = re.compile(r"[<>≤≥]?\s*[-+]?[0-9]*[.,]?[0-9]*([eE][-+]?[0-9]+)?|n\.?d\.?", re.IGNORECASE)
HEAD = "# Written by the program: the organiser's protocol without what the coded report leaves out.\n"


def reduced_inputs(prepared: Prepared, extracts: Mapping[str, Extract]) -> dict[str, bytes]:
    """Name of each input → content, by the extract of each study that keeps something back."""
    tables = [_reduced(prepared, name, extract) for name, extract in extracts.items()]
    inputs = {name: content for name, content in prepared.inputs.items() if name not in prepared.superseded.files}
    for table in tables:
        inputs[table.file] = table.content
    for name, reading in prepared.readings.items():
        if name not in extracts and _alone(prepared, reading):
            inputs[reading.file] = _read_columns(prepared, name, reading)
    for extract in extracts.values():
        inputs |= extract.files
    if prepared.sealed.seal is not None and not all(extract.reasons for extract in extracts.values()):
        inputs |= {name: _seal_without_reasons(content) for name, content in prepared.sealed.files.items()
                   if name.endswith(".yaml")}  # fmt: skip
    inputs[prepared.loaded.path.name] = _protocol(prepared, tables)
    return inputs


@dataclass
class _Table:
    """A reduced table and what its protocol says of it."""

    study: str
    file: str
    extract: Extract
    content: bytes = b""
    amendments: list[dict[str, Any]] = field(default_factory=list)
    exclusions: list[dict[str, Any]] = field(default_factory=list)
    carried_out: int = 0
    """Corrections of text that stand in the table itself."""


def _reduced(prepared: Prepared, name: str, extract: Extract) -> _Table:
    from validate.tables.rewriting import header_of, rewritten

    source, reading = prepared.protocol.studies[name].data, prepared.readings[name]
    numeric = _numeric(prepared, name)
    positions = {role: at - 1 for role, at in reading.positions if role not in extract.leave}
    header = header_of(reading.content, source)
    made = _Table(name, source.file, extract)
    treatments = _Treatments(made, reading, positions, numeric, header, extract)
    treatments.take(prepared)
    made.content = rewritten(
        reading.content,
        source,
        keep=positions.values(),
        numbers={at for role, at in positions.items() if role in numeric},
        created=_created(prepared),
        order_by=positions[extract.order_by],
        changed=treatments.changed,
        marked=treatments.marked,
    )
    return made


@dataclass
class _Treatments:
    """Corrections and exclusions of one table, said again for the reduced one.

    A `where` may name a column that leaves, so rows are marked in a column of their own. A corrected
    text (a code, a method, a unit) is carried out: what stood there first may be a name. A corrected
    number stays a correction; a cell that held no number is written as unreadable.
    """

    made: _Table
    reading: TableReading
    positions: Mapping[str, int]
    numeric: set[str]
    header: Sequence[str]
    extract: Extract
    changed: dict[tuple[int, int], str] = field(default_factory=dict)
    marked: dict[str, tuple[int, ...]] = field(default_factory=dict)

    def take(self, prepared: Prepared) -> None:
        source = prepared.protocol.studies[self.made.study].data
        given = [entry for entry, _ in treatments_of(prepared.loaded, "amendments", source)]
        for entry, done in zip(given, self.reading.amendments, strict=True):
            self._amendment(entry, done.row, done.old, len(self.made.amendments) + 1)
        given = [entry for entry, _ in treatments_of(prepared.loaded, "exclusions", source)]
        for number, (entry, rows) in enumerate(zip(given, self.reading.excluded, strict=False), start=1):
            self.made.exclusions.append(self._said(entry, f"exclusion {number}", rows))

    def _amendment(self, entry: Any, row: int, old: str, number: int) -> None:
        role = self._role(entry.column)
        if role is None:
            return
        position = self.positions[role]
        if role not in self.numeric:
            self.changed[row, position] = entry.new
            self.made.carried_out += 1
            return
        said = self._said(entry, f"correction {number}", (row,))
        said |= {"column": self.header[position], "old": old, "new": entry.new}
        if not READABLE.fullmatch(old):
            self.changed[row, position] = said["old"] = UNREAD
        self.made.amendments.append(said)

    def _role(self, column: str) -> str | None:
        """The role of a column that stays, named as in the file or as in the study."""
        if column in self.header:
            at = self.header.index(column)
            return next((role for role, position in self.positions.items() if position == at), None)
        return column if column in self.positions else None

    def _said(self, entry: Treatment, mark: str, rows: Sequence[int]) -> dict[str, Any]:
        self.marked[mark] = tuple(rows)
        said: dict[str, Any] = {"data": entry.data, "sheet": entry.sheet, "where": {mark: "yes"}}
        told = {"by": entry.by, "reason": entry.reason} if self.extract.reasons else dict.fromkeys(
            ("by", "reason"), KEPT_BACK)  # fmt: skip
        said |= {"on": str(entry.on), **told}
        return {key: value for key, value in said.items() if value is not None}


def _numeric(prepared: Prepared, name: str) -> set[str]:
    columns = columns_of(prepared.loaded, name, prepared.studies[name])
    return {column.role for column in columns if column.type == "number"}


def _alone(prepared: Prepared, reading: TableReading) -> bool:
    """Whether one study reads this file, so that its other columns and sheets can leave."""
    return sum(other.file == reading.file for other in prepared.tables) == 1


def _read_columns(prepared: Prepared, name: str, reading: TableReading) -> bytes:
    """A table of the organiser's own: columns that the study reads or a treatment names, rows as they are."""
    from validate.tables.rewriting import header_of, rewritten

    source: DataSource = prepared.protocol.studies[name].data
    header = header_of(reading.content, source)
    treated = [
        entry for key in ("amendments", "exclusions") for entry, _ in treatments_of(prepared.loaded, key, source)
    ]
    named = {column for entry in treated for column in entry.where}
    positions = {role: at - 1 for role, at in reading.positions}
    numbers = {positions[role] for role in _numeric(prepared, name) & positions.keys()}
    keep = {*positions.values(), *(header.index(column) for column in named if column in header)}
    return rewritten(reading.content, source, keep=keep, numbers=numbers, created=_created(prepared))


def _created(prepared: Prepared) -> dt.date:
    return dt.date.fromisoformat(str(prepared.protocol.issued))


def _seal_without_reasons(content: bytes) -> bytes:
    """The seal with its hashes; why the design was revised, and by whom, may name a laboratory."""
    seal: SealFile = read_seal(content)
    return seal_text(replace(seal, revisions=tuple(replace(r, reason=KEPT_BACK) for r in seal.revisions)))


def _protocol(prepared: Prepared, tables: Sequence[_Table]) -> bytes:
    import yaml

    plain = _plain(prepared.loaded.tree)
    protocol, of_tables = prepared.protocol, {table.file for table in tables}
    plain["title"] = f"{protocol.title} ({tables[0].extract.mark})"
    if protocol.supersedes is not None:
        plain["supersedes"] = protocol.supersedes.title
    stated = protocol.origin.statement if protocol.origin and protocol.origin.statement else ""
    plain["origin"] = {
        "data": protocol.origin.data if protocol.origin else "measured",
        "statement": " ".join(filter(None, (stated, *map(_left_out, tables)))),
    }
    for key in ("amendments", "exclusions"):
        others = [entry.model_dump(mode="json", exclude_none=True)
                  for entry in getattr(protocol, key) if entry.data not in of_tables]  # fmt: skip
        plain[key] = others + [entry for table in tables for entry in getattr(table, key)]
        if not plain[key]:
            del plain[key]
    for table in tables:
        data = plain["studies"][table.study]["data"]
        for key in ("columns", "units"):
            data[key] = {role: text for role, text in data.get(key, {}).items() if role not in table.extract.leave}
            if not data[key]:
                del data[key]
    text = yaml.dump(plain, Dumper=yaml.SafeDumper, sort_keys=False, allow_unicode=True, width=110)
    return (HEAD + text).encode("utf-8")


def _plain(node: Node) -> Any:
    if isinstance(node.value, dict):
        return {key: _plain(value) for key, value in node.value.items()}
    return [_plain(value) for value in node.value] if isinstance(node.value, list) else node.value


def _left_out(table: _Table) -> str:
    """What a reader of the coded report does not see."""
    told = [table.extract.statement]
    if table.carried_out:
        texts = "1 corrected text is" if table.carried_out == 1 else f"{table.carried_out} corrected texts are"
        told.append(f"{texts} written into {table.file} itself.")
    return " ".join(told)
