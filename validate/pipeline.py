"""The only module that knows every room: prepare → evaluate → judge → conclude → render.

Each step is one function; data flows one way through them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from validate.protocol.loading import LoadedProtocol, load_protocol
from validate.provenance.canonical import sha256
from validate.provenance.environment import DISTRIBUTION, package_version
from validate.provenance.evaluation_file import evaluation_bytes
from validate.provenance.manifest import manifest_bytes, outputs_bytes
from validate.studies.contract import CheckInput, Method, Study, StudyInput
from validate.studies.discovery import kinds as study_kinds
from validate.studies.discovery import section_template
from validate.studies.references import reference_values
from validate.tables.files import read_inside
from validate.tables.reading import TableReading, read_table
from validate.vocabulary.evaluation import (
    Evaluation,
    InputFile,
    LeftOneOut,
    Requirement,
    StudyEvaluation,
    StudyResult,
)
from validate.vocabulary.place import Place
from validate.vocabulary.problem import ERROR, InputRefused, Problem, ProblemCatalogue
from validate.vocabulary.quantity import mass_fraction_per_unit

if TYPE_CHECKING:
    from validate.criteria.resolving import Resolution
    from validate.protocol.model import Protocol
    from validate.tables.table import Table

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
    method: Method
    readings: Mapping[str, TableReading]
    resolution: Resolution
    attachments: Mapping[str, bytes]
    problems: tuple[Problem, ...]

    @property
    def protocol(self) -> Protocol:
        """The checked protocol; raises InputRefused when a problem forbids evaluation (notices do not)."""
        if any(problem.severity == ERROR for problem in self.problems):
            raise InputRefused(self.problems)
        return self.loaded.protocol

    @property
    def inputs(self) -> dict[str, bytes]:
        """Every file that was read: name in the protocol's folder → bytes."""
        files = {self.loaded.path.name: self.loaded.content}
        files |= {reading.file: reading.content for reading in self.readings.values()}
        return files | dict(self.attachments)


@dataclass(frozen=True)
class Rendered:
    """The files of a dossier; `missing_pdf` says why there is no PDF where it was asked for."""

    files: Mapping[str, bytes]
    missing_pdf: str = ""


def prepare(path: Path, progress: Progress = quiet) -> Prepared:
    """Read and check the protocol at `path` (a file or its folder) and its tables.

    Raises InputRefused, with every problem found, when the protocol itself cannot be
    read; problems of tables and bounds are kept in the result.
    """
    progress("reading the protocol")
    from validate.criteria.resolving import resolve

    declared = study_kinds()
    loaded = load_protocol(path, {name: kind.settings for name, kind in declared.items()})
    if loaded.protocol is None:
        raise InputRefused(loaded.problems)
    protocol = loaded.protocol
    method = _method(protocol)
    studies = {name: declared[settings.kind] for name, settings in protocol.studies.items()}
    resolution = resolve(loaded, studies, method)
    readings = {}
    problems = [*loaded.problems, *resolution.problems]
    for name, kind in studies.items():
        progress(f"checking {name}")
        reading = _read_study_table(loaded, name, kind)
        if reading is not None:
            problems += reading.problems
            if reading.reported is not None:
                readings[name] = reading
        problems += _check_study(loaded, name, kind, method, reading)
    problems += _unread_treatments(loaded)
    attachments, unreadable = _read_attachments(loaded)
    problems += unreadable
    return Prepared(loaded, studies, method, readings, resolution, attachments, _unique(problems))


def evaluate(prepared: Prepared, progress: Progress = quiet) -> Evaluation:
    """Evaluate every study as recorded and as reported, judge, and conclude.

    Raises InputRefused when the prepared input has an error.
    """
    from validate.criteria.concluding import conclude
    from validate.criteria.coverage import clauses, gaps
    from validate.criteria.designs import minimum_designs
    from validate.criteria.judging import judge_all
    from validate.protocol.recorded import recorded_only

    protocol, studies, criteria = prepared.protocol, prepared.studies, prepared.resolution.criteria
    recorded, reported = _evaluate_twice(prepared, progress)
    progress("judging")
    requirements = tuple(
        Requirement(criterion=criterion, as_reported=after, as_recorded=before)
        for criterion, before, after in zip(
            criteria,
            judge_all(criteria, recorded, studies),
            judge_all(criteria, reported, studies),
            strict=True,
        )
    )
    designs = minimum_designs(prepared.loaded, studies, reported)
    missing = gaps(protocol, studies, reported)
    return Evaluation(
        format=1,
        software=f"{DISTRIBUTION} {package_version(DISTRIBUTION)}",
        protocol=protocol.model_dump(mode="json", by_alias=True, exclude_none=True),
        inputs=_input_files(prepared),
        conclusion=conclude(requirements, missing, designs, unit=protocol.method.unit),
        studies=tuple(_study_evaluation(prepared, name, recorded[name], reported[name]) for name in studies),
        requirements=requirements,
        gaps=missing,
        minimum_designs=designs,
        amendments=_unique(a for reading in prepared.readings.values() for a in reading.amendments),
        exclusions=_unique(e for reading in prepared.readings.values() for e in reading.exclusions),
        left_one_out=_left_one_out(prepared, reported, requirements, progress),
        recorded_only=recorded_only(protocol),
        clauses=clauses(protocol, studies, reported),
        catalogue=prepared.resolution.excerpts,
        notices=tuple(str(problem) for problem in prepared.problems),
    )


def render(prepared: Prepared, evaluation: Evaluation, *, with_pdf: bool = True, progress: Progress = quiet) -> Rendered:
    """The files of the dossier: HTML, PDF, evaluation, manifest, outputs (name → bytes).

    Without the system libraries for the PDF the other files are still complete and
    `missing_pdf` says which packages to install.
    """
    from validate.dossier.html import render_html
    from validate.dossier.pdf import PangoMissing, render_pdf

    evaluation_json = evaluation_bytes(evaluation)
    progress("drawing the dossier")
    templates = {kind.kind: section_template(kind.kind) for kind in prepared.studies.values()}
    files = {"dossier.html": render_html(evaluation, prepared.inputs, templates)}
    missing_pdf = ""
    if with_pdf:
        progress("setting the pages")
        try:
            files["dossier.pdf"] = render_pdf(files["dossier.html"], evaluation)
        except PangoMissing as error:
            missing_pdf = str(error)
    files["evaluation.json"] = evaluation_json
    files["manifest.json"] = manifest_bytes(evaluation, evaluation_json)
    files["outputs.json"] = outputs_bytes(files)
    return Rendered(files, missing_pdf)


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
    return read_table(
        loaded.folder,
        settings.data,
        kind.columns_of(settings) if kind.columns_of else kind.columns,
        method_unit=loaded.protocol.method.unit,
        shown_folder=loaded.shown_folder,
        source_place=partial(loaded.place, "studies", name, "data"),
        amendments=_of_file(loaded, "amendments", settings.data.file),
        exclusions=_of_file(loaded, "exclusions", settings.data.file),
    )


def _of_file(loaded: LoadedProtocol, key: str, file: str) -> list[tuple[Any, Place]]:
    """The amendments or exclusions of one data file, each with its place in the protocol."""
    entries = enumerate(getattr(loaded.protocol, key))
    return [(entry, loaded.place(key, i)) for i, entry in entries if entry.data == file]


def _check_study(
    loaded: LoadedProtocol, name: str, kind: Study, method: Method, reading: TableReading | None
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
            )
        )
    )


def _unread_treatments(loaded: LoadedProtocol) -> list[Problem]:
    """Amendments and exclusions that name a file no study reads."""
    read = {settings.data.file for settings in loaded.protocol.studies.values() if settings.data}
    return [
        PROBLEMS.problem("treatment-of-unread-file", loaded.place(key, i, "data"), key=key, file=entry.data)
        for key in ("amendments", "exclusions")
        for i, entry in enumerate(getattr(loaded.protocol, key))
        if entry.data not in read
    ]


def _read_attachments(loaded: LoadedProtocol) -> tuple[dict[str, bytes], list[Problem]]:
    """Files that the protocol names and this version keeps without evaluating them."""
    names = [loaded.protocol.runs] if loaded.protocol.runs else []
    contents, problems = {}, []
    for name in names:
        try:
            contents[name] = read_inside(loaded.folder, name, largest_bytes=LARGEST_ATTACHMENT_BYTES)
        except InputRefused as refused:
            problems += refused.problems
    return contents, problems


def _evaluate_twice(
    prepared: Prepared, progress: Progress
) -> tuple[dict[str, StudyResult], dict[str, StudyResult]]:
    """Results as recorded and as reported; computed once where no treatment touches the table."""
    recorded, reported = {}, {}
    for name in prepared.studies:
        progress(f"evaluating {name}")
        reading = prepared.readings.get(name)
        if reading is None:
            recorded[name] = reported[name] = StudyResult(findings=())
            continue
        reported[name] = _evaluate_study(prepared, name, reading.reported)
        treated = reading.amendments or reading.exclusions
        recorded[name] = _evaluate_study(prepared, name, reading.recorded) if treated else reported[name]
    return recorded, reported


def _evaluate_study(prepared: Prepared, name: str, table: Table) -> StudyResult:
    return prepared.studies[name].evaluate(_study_input(prepared, name, table))


def _study_input(prepared: Prepared, name: str, table: Table) -> StudyInput:
    from validate.criteria.resolving import comparisons

    return StudyInput(
        name=name,
        settings=prepared.protocol.studies[name],
        table=table,
        method=prepared.method,
        comparisons=comparisons(prepared.resolution.criteria, name),
        materials=reference_values(prepared.protocol.materials, prepared.method.unit),
    )


def _study_evaluation(prepared: Prepared, name: str, recorded: StudyResult, reported: StudyResult) -> StudyEvaluation:
    kind, settings = prepared.studies[name], prepared.protocol.studies[name]
    reading = prepared.readings.get(name)
    limits = ()
    if kind.limits and reading:
        limits = kind.limits(_study_input(prepared, name, reading.reported), reported)
    return StudyEvaluation(
        name=name,
        kind=kind.kind,
        title=settings.title or kind.title,
        question=kind.question,
        kinds_of_finding=kind.findings,
        data_file=settings.data.file if settings.data else None,
        as_reported=reported,
        as_recorded=recorded,
        limits=limits,
    )


def _left_one_out(
    prepared: Prepared,
    reported: Mapping[str, StudyResult],
    requirements: Sequence[Requirement],
    progress: Progress,
) -> tuple[LeftOneOut, ...]:
    """Which verdicts change when one exclusion is lifted; only where there is more than one."""
    from validate.criteria.judging import judge_all

    exclusions = _unique(e for reading in prepared.readings.values() for e in reading.exclusions)
    if len(exclusions) < 2:
        return ()
    lines = []
    for number, exclusion in enumerate(exclusions, start=1):
        progress(f"lifting exclusion {number} of {len(exclusions)}")
        results = dict(reported)
        for name, reading in prepared.readings.items():
            if exclusion in reading.exclusions:
                results[name] = _evaluate_study(prepared, name, reading.lifting(reading.exclusions.index(exclusion)))
        judged = judge_all(prepared.resolution.criteria, results, prepared.studies)
        changed = tuple(
            f"{r.criterion.id}: {r.as_reported.verdict} → {j.verdict}"
            for r, j in zip(requirements, judged, strict=True)
            if j.verdict is not r.as_reported.verdict
        )
        lines.append(LeftOneOut(exclusion=number, changed=changed))
    return tuple(lines)


def _input_files(prepared: Prepared) -> tuple[InputFile, ...]:
    read_as = {reading.file: reading.read_as for reading in prepared.readings.values()}
    return tuple(
        InputFile(
            name=name,
            sha256=sha256(content),
            size_bytes=len(content),
            role=_role(prepared, name),
            read_as=read_as.get(name, ""),
        )
        for name, content in prepared.inputs.items()
    )


def _role(prepared: Prepared, name: str) -> str:
    if name == prepared.loaded.path.name:
        return "protocol"
    return "attachment" if name in prepared.attachments else "table"


def _unique(items: Iterable[Any]) -> tuple[Any, ...]:
    """Without repetition, in order: two studies may read the same treated file."""
    kept: list[Any] = []
    for item in items:
        if item not in kept:
            kept.append(item)
    return tuple(kept)
