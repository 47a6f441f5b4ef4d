"""What studies give out beside the dossier: leaflets, tables, and a dossier from a part of the inputs."""

from __future__ import annotations

import gc
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

from validate.pipeline.preparing import Prepared, Progress, files_of, quiet
from validate.studies.contract import PackageInput, Study
from validate.vocabulary.evaluation import Evaluation, StudyEvaluation
from validate.vocabulary.leaflet import Extract, Leaflet, Packages

if TYPE_CHECKING:
    from validate.dossier.leaflets import LeafletPress
    from validate.dossier.pdf import Archive

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
    from validate.pipeline.reducing import reduced_inputs

    made = {
        study.name: _packages(prepared, study, kind)
        for study in evaluation.studies
        for kind in [prepared.studies[study.name]]
        if kind.packages and study.as_reported.findings
    }
    # What one study keeps back must not leave with the report of another.
    extracts = {name: each.extract for name, each in made.items() if each.extract}
    inputs = reduced_inputs(prepared, extracts) if extracts else {}
    files: dict[str, bytes] = {}
    for study in (study for study in evaluation.studies if study.name in made):
        within, given = "" if len(made) == 1 else f"{study.name}/", made[study.name]
        for name, content in _tables(prepared, study, given):
            files[within + name] = content
        if given.extract:
            progress(f"making {given.extract.folder}")
            found = _extract(prepared, given.extract, inputs, with_pdf, archive)
            files |= {f"{within}{given.extract.folder}/{name}": content for name, content in found.items()}
        for name, content in _leaflets(evaluation, study, given.leaflets, with_pdf, progress):
            files[within + name] = content
    return files


def _packages(prepared: Prepared, study: StudyEvaluation, kind: Study) -> Packages:
    settings = prepared.protocol.studies[study.name]
    return kind.packages(
        PackageInput(
            name=study.name,
            settings=settings,
            method=prepared.method,
            result=study.as_reported,
            title=study.title,
            organiser=prepared.protocol.laboratory,
            files=files_of(kind, settings, prepared.attachments),
        )
    )


def _tables(prepared: Prepared, study: StudyEvaluation, made: Packages) -> Iterator[tuple[str, bytes]]:
    from validate.tables.writing import csv_bytes, tables_workbook

    yield from ((f"{table.name}.csv", csv_bytes(table)) for table in made.tables)
    if made.tables:
        created = prepared.protocol.issued
        yield f"{made.tables[0].name}.xlsx", tables_workbook(made.tables, created=created, title=study.title)


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
    gc.collect()
    gc.freeze()  # what is there already is not searched for garbage again after every page
    with warnings.catch_warnings():
        # Newer Pythons warn of copying a process with threads; those of the numerical library wait.
        warnings.filterwarnings("ignore", ".*multi-threaded", DeprecationWarning)
        with ProcessPoolExecutor(PROCESSES, multiprocessing.get_context("fork")) as pool:
            yield from pool.map(_print_batch, [rest[i : i + BATCH] for i in range(0, len(rest), BATCH)])
    gc.unfreeze()
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


def _extract(
    prepared: Prepared, extract: Extract, inputs: Mapping[str, bytes], with_pdf: bool, archive: Archive
) -> Mapping[str, bytes]:
    """A whole dossier from the reduced protocol, tables and files, so that it recomputes from what it carries."""
    from validate.pipeline.evaluating import evaluate
    from validate.pipeline.preparing import prepare
    from validate.pipeline.rendering import render

    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        for file, content in inputs.items():
            place = folder / file
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(content)
        again = prepare(folder / prepared.loaded.path.name)
        return render(again, evaluate(again), with_pdf=with_pdf, archive=archive, packages=False).files
