"""First step: read and check a protocol, its tables and its bounds; every problem is kept."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from validate.pipeline.ordering import evaluation_order, missing_needs
from validate.pipeline.plausible import impossible_readings
from validate.pipeline.readying import Readied, ready
from validate.pipeline.reissuing import Superseded, read_superseded
from validate.pipeline.sealing import Sealed, read_sealed
from validate.portion.checking import impossible_steps
from validate.portion.rows import compare_rows, with_portion_columns
from validate.protocol.loading import LoadedProtocol, load_protocol
from validate.provenance.carrying import is_reserved
from validate.studies.contract import CheckInput, Method, Study
from validate.studies.discovery import kinds as study_kinds
from validate.studies.references import reference_values
from validate.tables.files import read_inside
from validate.tables.reading import TableReading, read_table
from validate.vocabulary.place import Place
from validate.vocabulary.portion import PortionRows
from validate.vocabulary.problem import ERROR, InputRefused, Problem, ProblemCatalogue
from validate.vocabulary.quantity import mass_fraction_per_unit

if TYPE_CHECKING:
    from validate.criteria.resolving import Resolution
    from validate.protocol.model import Protocol
    from validate.protocol.settings import DataSource, StudySettings
    from validate.tables.table import Column
    from validate.vocabulary.readiness import ReadinessResult

PROBLEMS = ProblemCatalogue(__file__)
LARGEST_ATTACHMENT_BYTES = 50_000_000
Progress = Callable[[str], None]


def quiet(step: str) -> None:
    """The progress of a caller who does not want to see any."""


@dataclass(frozen=True)
class Prepared:
    """A protocol that was read and checked together with its tables and bounds."""

    loaded: LoadedProtocol
    studies: Mapping[str, Study]
    """Kind of each study by its name, in an order in which every study finds what it needs."""
    method: Method
    readings: Mapping[str, TableReading]
    resolution: Resolution
    attachments: Mapping[str, bytes]
    problems: tuple[Problem, ...]
    run_log: TableReading | None = None
    readiness: ReadinessResult | None = None
    sealed: Sealed = field(default_factory=Sealed)
    superseded: Superseded = field(default_factory=Superseded)
    portion_rows: tuple[PortionRows, ...] = ()

    @property
    def protocol(self) -> Protocol:
        """The checked protocol; raises InputRefused when a problem forbids evaluation (notices do not)."""
        if any(problem.severity == ERROR for problem in self.problems):
            raise InputRefused(self.problems)
        return self.loaded.protocol

    @property
    def tables(self) -> tuple[TableReading, ...]:
        """The tables of the studies, and the run log."""
        return (*self.readings.values(), *([self.run_log] if self.run_log else ()))

    @property
    def inputs(self) -> dict[str, bytes]:
        """Every file that was read: name in the protocol's folder → bytes."""
        files = {self.loaded.path.name: self.loaded.content}
        files |= {reading.file: reading.content for reading in self.tables}
        return files | dict(self.attachments) | dict(self.sealed.files) | dict(self.superseded.files)


def prepare(path: Path, progress: Progress = quiet, *, with_tables: bool = True) -> Prepared:
    """Read and check the protocol at `path` (a file or its folder) and its tables.

    Without tables only the protocol is looked at, as before the bench work. Raises InputRefused, with
    every problem found, when the protocol itself cannot be read; problems of tables and bounds are kept
    in the result.
    """
    progress("reading the protocol")
    from validate.criteria.resolving import resolve

    declared = study_kinds()
    loaded = load_protocol(path, {name: kind.settings for name, kind in declared.items()})
    if loaded.protocol is None:
        raise InputRefused(loaded.problems)
    protocol = loaded.protocol
    method = _method(protocol)
    studies = evaluation_order({name: declared[settings.kind] for name, settings in protocol.studies.items()})
    resolution = resolve(loaded, studies, method)
    problems = [*loaded.problems, *resolution.problems, *impossible_steps(loaded)]
    attachments, unreadable = _read_attachments(loaded, studies) if with_tables else ({}, [])
    read = {}
    for name, kind in studies.items():
        progress(f"checking {name}")
        read[name] = _read_study_table(loaded, name, kind) if with_tables else None
        if read[name] is not None:
            problems += read[name].problems
            problems += impossible_readings(read[name], columns_of(loaded, name, kind), method)
    whole = {name: reading for name, reading in read.items() if reading is not None and reading.reported is not None}
    readied = ready(loaded, whole, _amendments_of_log(loaded)) if with_tables else Readied(whole)
    problems += readied.problems
    for name, kind in studies.items():
        reading = readied.readings.get(name, read[name])
        files = files_of(kind, protocol.studies[name], attachments)
        problems += _check_study(loaded, name, kind, method, reading, files)
    portion_rows, differing = _portion_rows(loaded, readied.readings)
    problems += differing
    problems += _unread_treatments(loaded)
    problems += _shared_files(loaded, studies)
    problems += missing_needs(loaded, studies)
    problems += unreadable
    sealed, superseded = Sealed(), Superseded()
    if with_tables:
        sealed = read_sealed(loaded, resolution, readied.log)
        superseded = read_superseded(loaded, _read_files(readied, attachments))
        problems += [*sealed.problems, *superseded.problems]
    prepared = Prepared(
        loaded=loaded,
        studies=studies,
        method=method,
        readings=readied.readings,
        resolution=resolution,
        attachments=attachments,
        problems=unique(problems),
        run_log=readied.log,
        readiness=readied.result,
        sealed=sealed,
        superseded=superseded,
        portion_rows=portion_rows,
    )
    return replace(prepared, problems=(*prepared.problems, *_reserved_names(prepared)))


def _read_files(readied: Readied, attachments: Mapping[str, bytes]) -> dict[str, tuple[str, bytes]]:
    """Role and content of the tables, the run log and further files, by name."""
    tables = [*readied.readings.values(), *([readied.log] if readied.log else [])]
    files = {reading.file: ("table", reading.content) for reading in tables}
    return files | {name: ("attachment", content) for name, content in attachments.items()}


def _reserved_names(prepared: Prepared) -> list[Problem]:
    """Inputs that could not travel beside a dossier's own files."""
    taken = [name for name in prepared.inputs if is_reserved(name)]
    return [PROBLEMS.problem("reserved-name", Place(name), file=name) for name in taken]


def _method(protocol: Protocol) -> Method:
    method = protocol.method
    reading, scope = method.reading, method.scope
    return Method(
        measurand=method.measurand,
        unit=method.unit,
        mass_fraction_per_unit=mass_fraction_per_unit(method.unit),
        resolution=reading.resolution if reading else None,
        floor=reading.floor if reading else None,
        limit=method.limit.value if method.limit else None,
        scope_from=scope.from_ if scope else None,
        scope_to=scope.to if scope else None,
        method_defined=method.defined_by_method,
    )


def _read_study_table(loaded: LoadedProtocol, name: str, kind: Study) -> TableReading | None:
    settings = loaded.protocol.studies[name]
    if settings.data is None:
        return None
    columns = columns_of(loaded, name, kind)
    if loaded.protocol.runs is not None:
        from validate.readiness.rules import result_columns

        columns = result_columns(columns, settings.data)
    if loaded.protocol.method.portion is not None:
        columns = with_portion_columns(columns, settings.data, loaded.protocol.method.portion)
    return read_table(
        loaded.folder,
        settings.data,
        columns,
        method_unit=loaded.protocol.method.unit,
        shown_folder=loaded.shown_folder,
        source_place=partial(loaded.place, "studies", name, "data"),
        amendments=treatments_of(loaded, "amendments", settings.data),
        exclusions=treatments_of(loaded, "exclusions", settings.data),
        marks=_marks(loaded) if settings.data.is_workbook else None,
    )


def _portion_rows(
    loaded: LoadedProtocol, readings: Mapping[str, TableReading]
) -> tuple[tuple[PortionRows, ...], list[Problem]]:
    """The portions that the tables record for their own samples."""
    portion = loaded.protocol.method.portion
    rows, problems = [], []
    for name, reading in readings.items() if portion is not None else ():
        told, found = compare_rows(name, reading, portion)
        rows += [told] if told is not None else []
        problems += found
    return tuple(rows), problems


def columns_of(loaded: LoadedProtocol, name: str, kind: Study) -> tuple[Column, ...]:
    """The columns that a study of the protocol asks for."""
    return kind.columns_of(loaded.protocol.studies[name]) if kind.columns_of else kind.columns


def treatments_of(loaded: LoadedProtocol, key: str, source: DataSource) -> list[tuple[Any, Place]]:
    """The amendments or exclusions of one data file or sheet, each with its place in the protocol."""
    return [
        (entry, loaded.place(key, i))
        for i, entry in enumerate(getattr(loaded.protocol, key))
        if entry.data == source.file and (None in (entry.sheet, source.sheet) or entry.sheet == source.sheet)
    ]


def _amendments_of_log(loaded: LoadedProtocol) -> list[tuple[Any, Place]]:
    return treatments_of(loaded, "amendments", loaded.protocol.runs) if loaded.protocol.runs else []


def _marks(loaded: LoadedProtocol) -> dict[str, str]:
    """What an entry workbook must say of the protocol that it was made for."""
    from validate.provenance.design import design_hash

    protocol = loaded.protocol
    return {"protocol": protocol.id, "edition": str(protocol.edition), "design hash": design_hash(protocol)}


def _check_study(
    loaded: LoadedProtocol,
    name: str,
    kind: Study,
    method: Method,
    reading: TableReading | None,
    files: Mapping[str, bytes],
) -> Sequence[Problem]:
    if kind.check is None:
        return ()
    table = reading.reported if reading else None
    return tuple(
        kind.check(
            CheckInput(
                name=name,
                settings=loaded.protocol.studies[name],
                table=table,
                method=method,
                place=partial(loaded.place, "studies", name),
                cell=reading.cell if reading else partial(loaded.place, "studies", name),
                materials=reference_values(loaded.protocol.materials, method.unit),
                files=files,
                others={other: each for other, each in loaded.protocol.studies.items() if other != name},
            )
        )
    )


def files_of(kind: Study, settings: StudySettings, attachments: Mapping[str, bytes]) -> dict[str, bytes]:
    """The further files of a study that could be read."""
    names = kind.files(settings) if kind.files else ()
    return {name: attachments[name] for name in names if name in attachments}


def _unread_treatments(loaded: LoadedProtocol) -> list[Problem]:
    """Amendments and exclusions that name a file or sheet no study reads, or not which of several sheets."""
    sheets: dict[str, set[str | None]] = {}
    for source in (settings.data for settings in loaded.protocol.studies.values() if settings.data):
        sheets.setdefault(source.file, set()).add(source.sheet)
    problems = []
    for key in ("amendments", "exclusions"):
        for i, entry in enumerate(getattr(loaded.protocol, key)):
            if key == "amendments" and loaded.protocol.runs and entry.data == loaded.protocol.runs.file:
                continue
            read = sheets.get(entry.data, set())
            values = {"key": key, "file": entry.data, "sheet": entry.sheet}
            if not read:
                problems.append(PROBLEMS.problem("treatment-of-unread-file", loaded.place(key, i, "data"), **values))
            elif entry.sheet is None and len(read) > 1:
                problems.append(PROBLEMS.problem("treatment-of-which-sheet", loaded.place(key, i), **values))
            elif entry.sheet is not None and None not in read and entry.sheet not in read:
                problems.append(PROBLEMS.problem("treatment-of-unread-sheet", loaded.place(key, i, "sheet"), **values))
    return problems


def _shared_files(loaded: LoadedProtocol, studies: Mapping[str, Study]) -> list[Problem]:
    """Tables with something to keep back that another study reads too: no report for all could be made of them."""
    read = {name: its.data.file for name, its in loaded.protocol.studies.items() if its.data is not None}
    problems = []
    for name in (name for name, kind in studies.items() if kind.packages and name in read):
        others = [other for other, file in read.items() if other != name and file == read[name]]
        if others:
            place = loaded.place("studies", name, "data", "file")
            problems.append(PROBLEMS.problem("extract-of-shared-file", place, file=read[name], other=others[0]))
    return problems


def _read_attachments(loaded: LoadedProtocol, studies: Mapping[str, Study]) -> tuple[dict[str, bytes], list[Problem]]:
    """Files that the protocol names beside its tables: kept as they are, or read by a study."""
    names: list[str] = []
    for name, kind in studies.items():
        names += kind.files(loaded.protocol.studies[name]) if kind.files else ()
    contents, problems = {}, []
    for name in dict.fromkeys(names):
        try:
            contents[name] = read_inside(loaded.folder, name, largest_bytes=LARGEST_ATTACHMENT_BYTES)
        except InputRefused as refused:
            problems += refused.problems
    return contents, problems


def unique(items: Iterable[Any]) -> tuple[Any, ...]:
    """Without repetition, in order: two studies may read the same treated file."""
    kept: list[Any] = []
    for item in items:
        if item not in kept:
            kept.append(item)
    return tuple(kept)
