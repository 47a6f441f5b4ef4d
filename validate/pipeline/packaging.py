"""What studies give out beside the dossier: leaflets, tables, and a dossier from a part of the inputs."""

from __future__ import annotations

import datetime as dt
import multiprocessing
import os
import sys
import tempfile
import warnings
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from validate.pipeline.preparing import Prepared, Progress, quiet
from validate.studies.contract import PackageInput, Study
from validate.vocabulary.evaluation import Evaluation, StudyEvaluation
from validate.vocabulary.leaflet import Extract, Leaflet, Packages
from validate.vocabulary.problem import InputRefused, ProblemCatalogue

if TYPE_CHECKING:
    from validate.dossier.leaflets import LeafletPress
    from validate.dossier.pdf import Archive

PROBLEMS = ProblemCatalogue(__file__)
PROCESSES = 2
FEWEST_FOR_PROCESSES = 24
"""Below this number of leaflets starting a process costs more than it saves."""
BATCH = 4
BAR = 20


def package_files(
    prepared: Prepared,
    evaluation: Evaluation,
    *,
    with_pdf: bool,
    archive: Archive = "pdf/a-3",
    progress: Progress = quiet,
) -> dict[str, bytes]:
    """Name below the dossier's folder → content. Raises PangoMissing for a PDF without the system libraries."""
    giving = [
        (study, kind)
        for study in evaluation.studies
        for kind in [prepared.studies[study.name]]
        if kind.packages and study.as_reported.findings
    ]
    files: dict[str, bytes] = {}
    for study, kind in giving:
        within = "" if len(giving) == 1 else f"{study.name}/"
        made = _packages(prepared, study, kind)
        for name, content in _of_study(prepared, evaluation, study, made, with_pdf, archive, progress):
            files[within + name] = content
    return files


def _packages(prepared: Prepared, study: StudyEvaluation, kind: Study) -> Packages:
    return kind.packages(
        PackageInput(
            name=study.name,
            settings=prepared.protocol.studies[study.name],
            method=prepared.method,
            result=study.as_reported,
            title=study.title,
            organiser=prepared.protocol.laboratory,
        )
    )


def _of_study(
    prepared: Prepared,
    evaluation: Evaluation,
    study: StudyEvaluation,
    made: Packages,
    with_pdf: bool,
    archive: Archive,
    progress: Progress,
) -> Iterator[tuple[str, bytes]]:
    from validate.tables.writing import csv_bytes, tables_workbook

    issued = prepared.protocol.issued
    yield from ((f"{table.name}.csv", csv_bytes(table)) for table in made.tables)
    if made.tables:
        yield f"{made.tables[0].name}.xlsx", tables_workbook(made.tables, created=issued, title=study.title)
    if made.extract:
        progress(f"making {made.extract.folder}")
        found = _extract(prepared, study.name, made.extract, with_pdf, archive)
        yield from ((f"{made.extract.folder}/{name}", content) for name, content in found.items())
    yield from _leaflets(evaluation, study, made.leaflets, with_pdf, progress)


def _leaflets(
    evaluation: Evaluation, study: StudyEvaluation, leaflets: Sequence[Leaflet], with_pdf: bool, progress: Progress
) -> Iterator[tuple[str, bytes]]:
    from validate.dossier.leaflets import LeafletPress

    press = LeafletPress(replace(evaluation, studies=(), requirements=()), study.title)
    apart = with_pdf and len(leaflets) >= FEWEST_FOR_PROCESSES and sys.platform == "linux" and (os.cpu_count() or 1) > 1
    done = 0
    for batch in _batches(press, leaflets) if apart else ([*_printed(press, each, with_pdf)] for each in leaflets):
        done += len(batch) // (2 if with_pdf else 1)
        progress(_bar(done, len(leaflets)))
        yield from batch


def _batches(press: LeafletPress, leaflets: Sequence[Leaflet]) -> Iterator[list[tuple[str, bytes]]]:
    """Files of the leaflets in their order, made by two copies of this process that have the styles read already.

    Only where a process can be copied: a new one would run the caller's script from its start.
    """
    yield [*_printed(press, leaflets[0], with_pdf=True)]
    rest = leaflets[1:]
    _copied[:] = [press]
    with warnings.catch_warnings():
        # Newer Pythons warn of copying a process with threads; those of the numerical library wait.
        warnings.filterwarnings("ignore", ".*multi-threaded", DeprecationWarning)
        with ProcessPoolExecutor(PROCESSES, multiprocessing.get_context("fork")) as pool:
            yield from pool.map(_print_batch, [rest[i : i + BATCH] for i in range(0, len(rest), BATCH)])
    _copied.clear()


_copied: list[LeafletPress] = []
"""What a copied process finds when it starts."""


def _print_batch(leaflets: Sequence[Leaflet]) -> list[tuple[str, bytes]]:
    return [file for leaflet in leaflets for file in _printed(_copied[0], leaflet, with_pdf=True)]


def _printed(press: LeafletPress, leaflet: Leaflet, with_pdf: bool) -> Iterator[tuple[str, bytes]]:
    yield f"{leaflet.name}.html", press.html(leaflet)
    if with_pdf:
        yield f"{leaflet.name}.pdf", press.pdf(leaflet)


def _bar(done: int, of: int) -> str:
    filled = BAR * done // of
    return f"setting page {done} of {of} [{'#' * filled}{'.' * (BAR - filled)}]"


def _extract(prepared: Prepared, name: str, extract: Extract, with_pdf: bool, archive: Archive) -> Mapping[str, bytes]:
    """A whole dossier from the protocol and the reduced table, so that it recomputes from what it carries."""
    from validate.pipeline.evaluating import evaluate
    from validate.pipeline.preparing import prepare
    from validate.pipeline.rendering import render

    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        for file, content in _reduced_inputs(prepared, name, extract).items():
            place = folder / file
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(content)
        again = prepare(folder / prepared.loaded.path.name)
        return render(again, evaluate(again), with_pdf=with_pdf, archive=archive, packages=False).files


def _reduced_inputs(prepared: Prepared, name: str, extract: Extract) -> dict[str, bytes]:
    from validate.tables.rewriting import rewritten

    settings, kind = prepared.protocol.studies[name], prepared.studies[name]
    source = settings.data
    others = [other for other, its in prepared.protocol.studies.items()
              if other != name and its.data is not None and its.data.file == source.file]  # fmt: skip
    if others:
        place = prepared.loaded.place("studies", name, "data", "file")
        raise InputRefused([PROBLEMS.problem("extract-of-shared-file", place, file=source.file, other=others[0])])
    columns = kind.columns_of(settings) if kind.columns_of else kind.columns
    inputs = prepared.inputs
    inputs[source.file] = rewritten(
        inputs[source.file],
        source,
        keep=extract.keep,
        blank=extract.blank,
        order_by=extract.order_by,
        numbers=[column.role for column in columns if column.type == "number"],
        created=dt.date.fromisoformat(str(prepared.protocol.issued)),
    )
    return inputs
