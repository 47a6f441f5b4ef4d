"""Before the bench: the files of a plan, and a first protocol to start from."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from validate.pipeline.preparing import Prepared, Progress, prepare, quiet
from validate.pipeline.rendering import Rendered
from validate.vocabulary.place import Place
from validate.vocabulary.problem import ERROR, InputRefused, Problem, ProblemCatalogue

if TYPE_CHECKING:
    from validate.planning.making import Plan

PROBLEMS = ProblemCatalogue(__file__)
SHEET, PAGES, WORKBOOK, PROTOCOL = "bench.html", "bench.pdf", "entry.xlsx", "protocol.yaml"


@dataclass(frozen=True)
class Planned:
    """A plan with every notice on protocol and spikes."""

    plan: Plan
    problems: tuple[Problem, ...]


def plan(prepared: Prepared, progress: Progress = quiet) -> Planned:
    """The bench plan of a protocol; tables are not looked at.

    Raises InputRefused with every problem of the protocol or, when it is sound, of its
    spikes.
    """
    from validate.planning.making import make_plan

    progress("planning")
    _ = prepared.protocol
    made = make_plan(prepared.loaded, prepared.studies, prepared.method, prepared.resolution.criteria)
    problems = (*prepared.problems, *made.problems)
    if any(problem.severity == ERROR for problem in problems):
        raise InputRefused(problems)
    return Planned(made, problems)


def render_plan(planned: Planned, *, with_pdf: bool = True, progress: Progress = quiet) -> Rendered:
    """The files of a plan: bench sheet (HTML, PDF) and entry workbook; `missing_pdf` says why there is no PDF."""
    from validate.dossier.pdf import PangoMissing, set_pages
    from validate.planning.entry import entry_workbook
    from validate.planning.sheet import render_sheet
    from validate.studies.discovery import bench_template

    progress("drawing the bench sheet")
    templates = {study.kind: bench_template(study.kind) for study in planned.plan.studies}
    files = {SHEET: render_sheet(planned.plan, templates)}
    missing_pdf = ""
    if with_pdf:
        progress("setting the pages")
        try:
            files[PAGES] = set_pages(files[SHEET])
        except PangoMissing as error:
            missing_pdf = str(error)
    files[WORKBOOK] = entry_workbook(planned.plan)
    return Rendered(files, missing_pdf)


def refuse_to_lose_results(folder: Path, workbook: bytes) -> None:
    """Raise InputRefused when an entry workbook lies in `folder` into which something may have been typed."""
    from validate.planning.workbook import is_untouched

    place = folder / WORKBOOK
    try:
        there = place.read_bytes() if place.exists() else workbook
    except OSError:
        there = b""
    if there != workbook and not is_untouched(there):
        shown = place.as_posix()
        raise InputRefused([PROBLEMS.problem("workbook-in-use", Place(shown), file=shown)])


def start(name: str, folder: Path) -> dict[str, bytes]:
    """Files of a first protocol for a kind of study or a purpose: protocol and entry workbook.

    Raises InputRefused when `name` is neither, or when one of the files is already there.
    """
    from validate.planning.starting import starter_protocol
    from validate.studies.discovery import kinds, starter_text

    there = [place for place in (folder / PROTOCOL, folder / WORKBOOK) if _exists(place)]
    if there:
        shown = there[0].as_posix()
        raise InputRefused([PROBLEMS.problem("already-there", Place(shown), file=shown)])
    content = starter_protocol(name, kinds(), starter_text)
    return {PROTOCOL: content, WORKBOOK: _first_workbook(content)}


def _first_workbook(content: bytes) -> bytes:
    """The entry workbook of the protocol in `content`."""
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as folder:
        place = Path(folder) / PROTOCOL
        place.write_bytes(content)
        return render_plan(plan(prepare(place, with_tables=False)), with_pdf=False).files[WORKBOOK]


def _exists(place: Path) -> bool:
    return place.exists() or place.is_symlink()
